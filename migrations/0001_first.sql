-- Lengths are whole nanometres (*_nm), money whole cents (*_cents), volumes whole cubic millimetres (*_mm3),
-- instants UTC seconds since 1970 (*_at), local days text YYYY-MM-DD (*_day), times of day in minutes since local
-- midnight (*_minute). Bookings are instants, so that twelve hours in clamps stay twelve hours across a clock change.

create table workshop (
    id integer primary key check (id = 1),
    name text not null check (length(name) between 1 and 120),
    time_zone text not null,
    -- Everything a steward may set, in the program's own form; what is missing has the program's default.
    settings text not null check (json_valid(settings)),
    -- The number that the next new tag is made from.
    next_tag integer not null default 1 check (next_tag > 0),
    version integer not null default 1,
    changed_at integer not null
) strict;
insert into workshop (id, name, time_zone, settings, changed_at) values (1, 'Workshop', 'UTC', '{}', 0);

create table member (
    id integer primary key,
    name text not null check (length(name) between 1 and 120),
    sign_in_name text not null unique collate nocase check (length(sign_in_name) between 1 and 120),
    password_hash text,
    role text not null check (role in ('member', 'steward')),
    length_unit text not null default 'in' check (length_unit in ('in', 'mm')),
    inch_denominator integer not null default 16 check (inch_denominator in (16, 32, 64)),
    -- Weekdays on which the member can come, as seven characters 1 or 0 from Monday on.
    own_days text not null default '1111111' check (length(own_days) = 7),
    calendar_token_hash blob unique,
    is_active integer not null default 1 check (is_active in (0, 1)),
    version integer not null default 1,
    created_at integer not null
) strict;

create table session (
    token_hash blob primary key check (length(token_hash) = 32),
    member_id integer not null references member on delete cascade,
    created_at integer not null,
    seen_at integer not null,
    ends_at integer not null
) strict, without rowid;
create index session_member on session (member_id);

-- One-time links: the first steward's, invitations, password resets.
create table invitation (
    id integer primary key,
    token_hash blob not null unique check (length(token_hash) = 32),
    purpose text not null check (purpose in ('first steward', 'invitation', 'reset')),
    role text not null check (role in ('member', 'steward')),
    name text not null default '',
    member_id integer references member on delete cascade,
    created_by integer references member on delete set null,
    created_at integer not null,
    ends_at integer not null,
    used_at integer,
    check ((purpose = 'reset') = (member_id is not null) or used_at is not null)
) strict;

create table api_token (
    id integer primary key,
    member_id integer not null references member on delete cascade,
    name text not null check (length(name) between 1 and 120),
    token_hash blob not null unique check (length(token_hash) = 32),
    -- read, write or steward; each includes the ones before.
    scope text not null check (scope in ('read', 'write', 'steward')),
    created_at integer not null,
    used_at integer,
    ended_at integer
) strict;

create table idempotency (
    key text not null check (length(key) between 1 and 200),
    member_id integer not null references member on delete cascade,
    request_hash blob not null,
    -- Null while the first request with this key is still at work.
    status integer,
    headers text,
    body blob,
    created_at integer not null,
    primary key (member_id, key)
) strict, without rowid;

-- The weekly hours, and single days that differ.
create table weekly_opening (
    id integer primary key,
    weekday integer not null check (weekday between 1 and 7), -- Monday is 1 (ISO 8601).
    from_minute integer not null check (from_minute between 0 and 1439),
    to_minute integer not null check (to_minute between 1 and 1440 and to_minute > from_minute),
    -- A steward is on duty, so the machines may run.
    machines integer not null default 1 check (machines in (0, 1)),
    from_day text not null,
    to_day text,
    version integer not null default 1
) strict;

create table extra_opening (
    id integer primary key,
    on_day text not null,
    from_minute integer not null check (from_minute between 0 and 1439),
    to_minute integer not null check (to_minute between 1 and 1440 and to_minute > from_minute),
    machines integer not null default 1 check (machines in (0, 1)),
    note text not null default '',
    version integer not null default 1
) strict;

create table closure (
    id integer primary key,
    from_day text not null,
    to_day text not null check (to_day >= from_day),
    reason text not null default '',
    version integer not null default 1
) strict;

create table bin (
    id integer primary key,
    name text not null unique collate nocase check (length(name) between 1 and 60),
    place text not null default '',
    version integer not null default 1
) strict;

-- Species that this workshop added or whose figures it corrected, in the project's own JSON form.
create table workshop_species (
    name text primary key collate nocase check (length(name) between 1 and 60),
    figures text not null check (json_valid(figures)),
    version integer not null default 1,
    changed_at integer not null
) strict;

create table species_price (
    species text primary key collate nocase,
    -- Per board foot of wood from the bins; null in the table of settings means nil.
    price_cents integer not null check (price_cents >= 0)
) strict;

create table project (
    id integer primary key,
    member_id integer not null references member,
    name text not null check (length(name) between 1 and 120),
    kind text not null check (length(kind) between 1 and 40),
    design text not null check (json_valid(design)),
    -- Allowances, glue, finish and step minutes that differ from the workshop's.
    practice text not null default '{}' check (json_valid(practice)),
    stage text not null default 'drawn' check (stage in ('drawn', 'matched', 'claimed', 'milled', 'glued', 'shaped',
        'finishing', 'curing', 'ready', 'handed over')),
    due_day text,
    note text not null default '',
    -- Grows with every change of what the design asks for.
    design_version integer not null default 1,
    -- The newest match that has not been claimed yet, and the design it was made for.
    match_answer text check (match_answer is null or json_valid(match_answer)),
    match_design_version integer,
    matched_at integer,
    ended_at integer,
    version integer not null default 1,
    created_at integer not null,
    check ((match_answer is null) = (matched_at is null) and (match_answer is null) = (match_design_version is null))
) strict;
create index project_member on project (member_id, ended_at);

-- What the project's design asks of the wood: one row for each kind of strip or blank.
create table strip (
    project_id integer not null references project on delete cascade,
    key text not null,
    count integer not null check (count > 0),
    length_nm integer not null check (length_nm > 0),
    species text not null check (json_valid(species)),
    -- [{"rip_nm": .., "thickness_nm": ..}, ..]: the alternative ways to have it.
    sections text not null check (json_valid(sections)),
    primary key (project_id, key)
) strict, without rowid;

create table offcut (
    id integer primary key,
    tag text not null unique collate nocase check (length(tag) between 1 and 20),
    species text not null collate nocase check (length(species) between 1 and 60),
    length_nm integer not null check (length_nm > 0),
    width_nm integer not null check (width_nm > 0),
    thickness_nm integer not null check (thickness_nm > 0),
    -- Of one piece, rounded: SQLite's integers cannot hold the product of three lengths.
    volume_mm3 integer not null check (volume_mm3 >= 0),
    -- Equal pieces under one tag. Zero once all are cut up or gone.
    count integer not null check (count >= 0),
    -- [{"from_nm": .., "to_nm": .., "why": ".."}, ..] along the untrimmed length.
    unusable text not null default '[]' check (json_valid(unusable)),
    square_ends integer not null default 0 check (square_ends in (0, 1)),
    straight_edges integer not null default 0 check (straight_edges in (0, 1)),
    growth_rings text not null default 'unknown' check (growth_rings in ('flat-sawn', 'quarter-sawn', 'unknown')),
    -- Thousandths of a per cent of the ovendry mass.
    moisture_milli integer check (moisture_milli between 0 and 200000),
    bin_id integer references bin,
    parent_id integer references offcut,
    note text not null default '',
    -- What became of the last piece: in bin while there is one.
    state text not null default 'in bin' check (state in ('in bin', 'cut up', 'gone')),
    added_by integer references member,
    added_at integer not null,
    version integer not null default 1,
    check ((state = 'in bin') = (count > 0)),
    check (state <> 'in bin' or bin_id is not null)
) strict;
create index offcut_bin on offcut (bin_id, count, volume_mm3) where count > 0;
create index offcut_species on offcut (species, count, volume_mm3) where count > 0;
create index offcut_age on offcut (added_at, count, volume_mm3) where count > 0;
create index offcut_parent on offcut (parent_id) where parent_id is not null;

create table photo (
    offcut_id integer primary key references offcut on delete cascade,
    media_type text not null,
    bytes blob not null,
    width integer not null,
    height integer not null,
    added_at integer not null
) strict;

-- Boards that can be bought, offered to every match.
create table lumber (
    id integer primary key,
    name text not null unique collate nocase check (length(name) between 1 and 80),
    species text not null collate nocase,
    length_nm integer not null check (length_nm > 0),
    width_nm integer not null check (width_nm > 0),
    thickness_nm integer not null check (thickness_nm > 0),
    price_cents integer not null check (price_cents >= 0),
    square_ends integer not null default 0 check (square_ends in (0, 1)),
    straight_edges integer not null default 0 check (straight_edges in (0, 1)),
    version integer not null default 1
) strict;

-- A piece held for a project until a day. An open claim is one that is held.
create table claim (
    id integer primary key,
    project_id integer not null references project,
    offcut_id integer not null references offcut,
    -- Still held, or held when the claim ended; what was cut is counted beside it.
    pieces integer not null check (pieces >= 0),
    pieces_cut integer not null default 0 check (pieces_cut >= 0),
    state text not null default 'held' check (state in ('held', 'cut', 'let go', 'lapsed')),
    last_day text not null,
    claimed_by integer not null references member,
    claimed_at integer not null,
    ended_at integer,
    version integer not null default 1,
    check ((state = 'held') = (ended_at is null)),
    check (state <> 'held' or pieces > 0),
    check (state <> 'cut' or (pieces = 0 and pieces_cut > 0))
) strict;
create index claim_held_offcut on claim (offcut_id) where state = 'held';
create index claim_held_day on claim (last_day) where state = 'held';
create index claim_project on claim (project_id);

-- How a claimed piece, or a bought board, is cut.
create table layout (
    id integer primary key,
    project_id integer not null references project,
    position integer not null,
    claim_id integer references claim,
    -- The board's name where the piece is bought.
    bought text,
    copies integer not null check (copies > 0),
    -- How many of the copies were cut so far.
    copies_cut integer not null default 0 check (copies_cut between 0 and copies),
    -- The cut as the calculation contract prints it.
    cut text not null check (json_valid(cut)),
    check ((claim_id is null) <> (bought is null))
) strict;
create index layout_project on layout (project_id);
create index layout_claim on layout (claim_id) where claim_id is not null;

-- What one copy of a layout gives. Several projects may share a piece, so a strip names its own project.
create table layout_strip (
    layout_id integer not null references layout on delete cascade,
    project_id integer not null references project,
    strip_key text not null,
    count integer not null check (count > 0),
    primary key (layout_id, project_id, strip_key)
) strict, without rowid;
create index layout_strip_project on layout_strip (project_id);

create trigger claim_is_free before insert on claim
when new.state = 'held' and new.pieces + (select coalesce(sum(pieces), 0) from claim where offcut_id = new.offcut_id and state = 'held')
    > (select count from offcut where id = new.offcut_id)
begin
    select raise(abort, 'piece already claimed');
end;

create trigger claim_stays_free before update on claim
when new.state = 'held' and new.pieces + (select coalesce(sum(pieces), 0) from claim
        where offcut_id = new.offcut_id and state = 'held' and id <> new.id)
    > (select count from offcut where id = new.offcut_id)
begin
    select raise(abort, 'piece already claimed');
end;

create trigger claim_ends_once before update of state on claim
when old.state <> 'held' and new.state <> old.state
begin
    select raise(abort, 'claim already ended');
end;

create trigger offcut_covers_claims before update of count on offcut
when new.count < (select coalesce(sum(pieces), 0) from claim where offcut_id = new.id and state = 'held')
begin
    select raise(abort, 'pieces are claimed');
end;

-- What the shop lends: sets of equal clamps, benches, machines, rack places.
create table resource (
    id integer primary key,
    kind text not null check (kind in ('clamp set', 'glue bench', 'table saw', 'crosscut saw', 'planer', 'drum sander', 'sander',
        'router table', 'router', 'jigsaw', 'drill press', 'work bench', 'rack place')),
    name text not null unique collate nocase check (length(name) between 1 and 60),
    capacity integer not null check (capacity >= 0),
    -- Clamps: the widest thing between the jaws, and the force one clamp is rated for.
    reach_nm integer check (reach_nm > 0),
    rated_force_n integer check (rated_force_n > 0),
    -- Planers and sanders: the widest panel that passes.
    pass_width_nm integer check (pass_width_nm > 0),
    version integer not null default 1,
    check ((kind = 'clamp set') = (reach_nm is not null))
) strict;

-- A step with its start and its resources. Planned together, accepted together.
create table booking (
    id integer primary key,
    project_id integer not null references project on delete cascade,
    -- The step's key in its project, and the kind of step it is.
    step text not null,
    kind text not null,
    name text not null,
    -- Panels that are in one set of clamps have the same text here: P3/glue-up P7/glue-up. What they share is booked
    -- once, with one of them.
    clamp_load text,
    -- Whole minutes.
    from_at integer not null check (from_at % 60 = 0),
    to_at integer not null check (to_at >= from_at and to_at % 60 = 0),
    -- Someone must be there, so it lies in an opening.
    attended integer not null check (attended in (0, 1)),
    state text not null default 'planned' check (state in ('planned', 'running', 'done')),
    -- A steward's booking that no plan moves.
    pinned integer not null default 0 check (pinned in (0, 1)),
    -- Changes with every move, for calendars (RFC 5545 SEQUENCE).
    sequence integer not null default 0,
    version integer not null default 1,
    changed_at integer not null,
    unique (project_id, step)
) strict;
create index booking_time on booking (to_at);

create table booking_use (
    id integer primary key,
    booking_id integer not null references booking on delete cascade,
    resource_id integer not null references resource,
    amount integer not null check (amount > 0),
    -- May last longer than the booking: clamps stay on until the panel is freed.
    from_at integer not null,
    to_at integer not null check (to_at >= from_at)
) strict;
create index booking_use_resource on booking_use (resource_id, to_at);
create index booking_use_booking on booking_use (booking_id);

-- Bookings that were cancelled, so that calendars can say so.
create table cancelled_booking (
    booking_id integer primary key,
    project_id integer not null,
    member_id integer not null,
    name text not null,
    from_at integer not null,
    to_at integer not null,
    sequence integer not null,
    cancelled_at integer not null
) strict;

-- The peak of use inside a span lies at its start or at the start of another use inside it.
create trigger booking_use_fits before insert on booking_use
when new.to_at > new.from_at and exists (
    select 1
    from (select new.from_at as moment_at
          union
          select from_at from booking_use
          where resource_id = new.resource_id and from_at > new.from_at and from_at < new.to_at) as moment
    where new.amount + (select coalesce(sum(amount), 0) from booking_use
                        where resource_id = new.resource_id and to_at > moment.moment_at and from_at <= moment.moment_at)
        > (select capacity from resource where id = new.resource_id))
begin
    select raise(abort, 'resource in use');
end;

create trigger booking_use_stays before update on booking_use
begin
    select raise(abort, 'a use is replaced, not changed');
end;

create trigger resource_covers_use before update of capacity on resource
when new.capacity < old.capacity and exists (
    select 1 from booking_use as moment
    where moment.resource_id = new.id and moment.to_at > moment.from_at
        and (select coalesce(sum(amount), 0) from booking_use
             where resource_id = new.id and to_at > moment.from_at and from_at <= moment.from_at) > new.capacity)
begin
    select raise(abort, 'resource in use');
end;

-- A match of several projects, or a plan, that waits to be accepted.
create table proposal (
    id integer primary key,
    kind text not null check (kind in ('match', 'plan')),
    member_id integer not null references member,
    -- What it was made for, so that it is refused when that has changed.
    made_for text not null check (json_valid(made_for)),
    answer text not null check (json_valid(answer)),
    created_at integer not null,
    accepted_at integer
) strict;

-- Every change of stock, in the transaction that makes it. Pieces and volume are what came (+) or went (-).
create table ledger (
    id integer primary key,
    at integer not null,
    -- YYYY-MM in the workshop's own time.
    month text not null check (length(month) = 7),
    member_id integer references member,
    what text not null check (what in ('added', 'remainder', 'corrected', 'cut', 'gone')),
    offcut_id integer not null references offcut,
    project_id integer references project,
    species text not null,
    pieces integer not null,
    volume_mm3 integer not null,
    -- Of a cut piece: what went into strips, and what was neither strip nor remainder.
    strips_mm3 integer not null default 0 check (strips_mm3 >= 0),
    waste_mm3 integer not null default 0 check (waste_mm3 >= 0),
    why text not null default ''
) strict;
create index ledger_at on ledger (at);
create index ledger_offcut on ledger (offcut_id, at);
create index ledger_species on ledger (species, at);
create index ledger_member on ledger (member_id, at);
create index ledger_project on ledger (project_id, at) where project_id is not null;

create trigger ledger_is_not_changed before update on ledger
begin
    select raise(abort, 'the ledger is only added to');
end;
create trigger ledger_is_not_cut before delete on ledger
begin
    select raise(abort, 'the ledger is only added to');
end;

-- Sums of the ledger, so that its pictures need not read a million rows.
create table ledger_sum (
    month text not null,
    what text not null,
    species text not null,
    -- Whose project it was for; 0 where it was for none.
    member_id integer not null,
    pieces integer not null,
    volume_mm3 integer not null,
    strips_mm3 integer not null,
    waste_mm3 integer not null,
    primary key (month, what, species, member_id)
) strict, without rowid;

create trigger ledger_is_summed after insert on ledger
begin
    insert into ledger_sum (month, what, species, member_id, pieces, volume_mm3, strips_mm3, waste_mm3)
    values (new.month, new.what, new.species, coalesce((select member_id from project where id = new.project_id), 0),
        new.pieces, new.volume_mm3, new.strips_mm3, new.waste_mm3)
    on conflict do update set pieces = pieces + excluded.pieces, volume_mm3 = volume_mm3 + excluded.volume_mm3,
        strips_mm3 = strips_mm3 + excluded.strips_mm3, waste_mm3 = waste_mm3 + excluded.waste_mm3;
end;

-- Who changed what: the audit trail, and what other programs follow.
create table change (
    id integer primary key autoincrement,
    at integer not null,
    member_id integer references member,
    verb text not null,
    noun text not null,
    noun_id text not null,
    detail text not null default ''
) strict;
create index change_noun on change (noun, noun_id);

create table notice_address (
    id integer primary key,
    member_id integer not null references member on delete cascade,
    url text not null,
    secret text not null,
    is_active integer not null default 1 check (is_active in (0, 1)),
    -- The last change that this address was told of.
    told_to integer not null default 0,
    failures integer not null default 0,
    tried_at integer,
    created_at integer not null
) strict;
