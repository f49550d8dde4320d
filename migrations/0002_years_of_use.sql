-- What years of use ask of the schema.

-- What is in use between two moments is looked for by when use ends.
create index booking_use_end on booking_use (to_at);

-- Looking for the peak of use inside a span begins where the span begins, and not with the first booking that ever was.
create index booking_use_begin on booking_use (resource_id, from_at);

drop trigger booking_use_fits;
create trigger booking_use_fits before insert on booking_use
when new.to_at > new.from_at and exists (
    select 1
    from (select new.from_at as moment_at
          union
          select from_at from booking_use
          where resource_id = new.resource_id and from_at > new.from_at and from_at < new.to_at) as moment
    -- The plus keeps SQLite to the index by the end of use: few uses end late, most began early.
    where new.amount + (select coalesce(sum(amount), 0) from booking_use
                        where resource_id = new.resource_id and to_at > moment.moment_at and +from_at <= moment.moment_at)
        > (select capacity from resource where id = new.resource_id))
begin
    select raise(abort, 'resource in use');
end;

-- A clamp that breaks today does not undo what was glued with it last year: only use that has not ended when the number changes counts.
alter table resource add column changed_at integer not null default 0;

drop trigger resource_covers_use;
create trigger resource_covers_use before update of capacity on resource
when new.capacity < old.capacity and exists (
    select 1 from booking_use as moment
    where moment.resource_id = new.id and moment.to_at > moment.from_at and moment.to_at > new.changed_at
        and (select coalesce(sum(amount), 0) from booking_use
             where resource_id = new.id and to_at > max(moment.from_at, new.changed_at)
                 and +from_at <= max(moment.from_at, new.changed_at)) > new.capacity)
begin
    select raise(abort, 'resource in use');
end;

-- The audit trail is read by member, and by kind of thing.
create index change_member on change (member_id);
create index change_kind on change (noun);

-- What lies in each bin, so that a list of bins need not count every piece. Kept by the two triggers below it.
create table stock (
    bin_id integer not null references bin on delete cascade,
    species text not null collate nocase,
    tags integer not null check (tags > 0),
    pieces integer not null check (pieces > 0),
    volume_mm3 integer not null check (volume_mm3 >= 0),
    primary key (bin_id, species)
) strict, without rowid;

insert into stock (bin_id, species, tags, pieces, volume_mm3)
select bin_id, species, count(*), sum(count), sum(count * volume_mm3) from offcut where count > 0 group by bin_id, species;

create trigger offcut_enters_stock after insert on offcut
when new.count > 0
begin
    insert into stock (bin_id, species, tags, pieces, volume_mm3)
    values (new.bin_id, new.species, 1, new.count, new.count * new.volume_mm3)
    on conflict do update set tags = tags + 1, pieces = pieces + excluded.pieces, volume_mm3 = volume_mm3 + excluded.volume_mm3;
end;

create trigger offcut_changes_stock after update of bin_id, species, count, volume_mm3 on offcut
begin
    insert into stock (bin_id, species, tags, pieces, volume_mm3)
    select new.bin_id, new.species, 1, new.count, new.count * new.volume_mm3 where new.count > 0
    on conflict do update set tags = tags + 1, pieces = pieces + excluded.pieces, volume_mm3 = volume_mm3 + excluded.volume_mm3;
    delete from stock where bin_id = old.bin_id and species = old.species and tags = 1 and old.count > 0;
    update stock set tags = tags - 1, pieces = pieces - old.count, volume_mm3 = volume_mm3 - old.count * old.volume_mm3
    where bin_id = old.bin_id and species = old.species and old.count > 0;
end;

-- A search reads what lies there, the newest first, without the pieces that are long gone and without the table.
create index offcut_there on offcut (id, bin_id, species, length_nm, width_nm, thickness_nm, added_at, tag, note, count)
where count > 0;

-- The ledger is read by what happened as well.
create index ledger_what on ledger (what, at);
