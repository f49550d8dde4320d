-- Entries of an earlier book: its pieces, people and projects are words, and tell nothing of what lies in the bins here.
create table ledger_anew (
    id integer primary key,
    at integer not null,
    -- YYYY-MM in the workshop's own time.
    month text not null check (length(month) = 7),
    member_id integer references member,
    what text not null check (what in ('added', 'remainder', 'corrected', 'cut', 'gone')),
    offcut_id integer references offcut,
    project_id integer references project,
    species text not null,
    pieces integer not null,
    volume_mm3 integer not null,
    -- Of a cut piece: what went into strips, and what was neither strip nor remainder.
    strips_mm3 integer not null default 0 check (strips_mm3 >= 0),
    waste_mm3 integer not null default 0 check (waste_mm3 >= 0),
    why text not null default '',
    -- Of an entry that was read from an earlier book; null in all others.
    earlier_tag text collate nocase check (length(earlier_tag) between 1 and 20),
    earlier_member text,
    earlier_project text,
    check ((offcut_id is null) = (earlier_tag is not null)),
    check (earlier_tag is null or (member_id is null and project_id is null))
) strict;

insert into ledger_anew (id, at, month, member_id, what, offcut_id, project_id, species, pieces, volume_mm3, strips_mm3, waste_mm3, why)
select id, at, month, member_id, what, offcut_id, project_id, species, pieces, volume_mm3, strips_mm3, waste_mm3, why from ledger;

drop table ledger;
alter table ledger_anew rename to ledger;

create index ledger_at on ledger (at);
create index ledger_offcut on ledger (offcut_id, at);
create index ledger_species on ledger (species, at);
create index ledger_member on ledger (member_id, at);
create index ledger_project on ledger (project_id, at) where project_id is not null;
create index ledger_what on ledger (what, at);
create index ledger_earlier on ledger (earlier_tag, at) where earlier_tag is not null;

create trigger ledger_is_not_changed before update on ledger
begin
    select raise(abort, 'the ledger is only added to');
end;
create trigger ledger_is_not_cut before delete on ledger
begin
    select raise(abort, 'the ledger is only added to');
end;
create trigger ledger_is_summed after insert on ledger
begin
    insert into ledger_sum (month, what, species, member_id, pieces, volume_mm3, strips_mm3, waste_mm3)
    values (new.month, new.what, new.species, coalesce((select member_id from project where id = new.project_id), 0),
        new.pieces, new.volume_mm3, new.strips_mm3, new.waste_mm3)
    on conflict do update set pieces = pieces + excluded.pieces, volume_mm3 = volume_mm3 + excluded.volume_mm3,
        strips_mm3 = strips_mm3 + excluded.strips_mm3, waste_mm3 = waste_mm3 + excluded.waste_mm3;
end;
