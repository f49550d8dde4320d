BEGIN TRANSACTION;
CREATE TABLE _sqlx_migrations (
    version BIGINT PRIMARY KEY,
    description TEXT NOT NULL,
    installed_on TIMESTAMP NOT NULL DEFAULT CURRENT_TIMESTAMP,
    success BOOLEAN NOT NULL,
    checksum BLOB NOT NULL,
    execution_time BIGINT NOT NULL
);
INSERT INTO "_sqlx_migrations" VALUES(1,'first','2026-11-27 03:57:30',1,X'0E2052E820E02133456B323FFC30FA9286A3CE2691AFE30146001441C99684C0D5E352A5F476554A5D9434E31870DD1A',9096966);
CREATE TABLE api_token (
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
INSERT INTO "api_token" VALUES(1,1,'walk',X'CB28EBEB6C148E0CBFFC0692DC19DA1B10FF33618209785C63614F3B38E152A8','steward',1795751854,1795751854,NULL);
CREATE TABLE bin (
    id integer primary key,
    name text not null unique collate nocase check (length(name) between 1 and 60),
    place text not null default '',
    version integer not null default 1
) strict;
INSERT INTO "bin" VALUES(1,'Pale maple','left of the door',2);
INSERT INTO "bin" VALUES(2,'Dark','',1);
CREATE TABLE booking (
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
INSERT INTO "booking" VALUES(1,1,'mill','mill','Mill and rip',NULL,1795770000,1795771200,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(2,1,'dry-fit','dry-fit','Dry fit',NULL,1795771200,1795772100,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(3,1,'glue-up','glue-up','Glue up',NULL,1795772100,1795774500,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(4,1,'unclamp','unclamp','Unclamp and scrape',NULL,1795856400,1795857600,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(5,1,'flatten','flatten','Flatten',NULL,1795857600,1795858800,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(6,1,'square','square','Square to size',NULL,1795858800,1795860000,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(7,1,'round-over-and-sand','round-over-and-sand','Round over and sand',NULL,1795860000,1795862400,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(8,1,'coat-1','coat','Coat 1',NULL,1795862400,1795864200,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(9,1,'coat-2','coat','Coat 2',NULL,1795950600,1795952400,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(10,1,'drying','drying','Dry',NULL,1795952400,1796038800,0,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(11,1,'off-rack','off-rack','Off the rack',NULL,1796038800,1796039400,1,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(12,1,'cure','cure','Cure',NULL,1795952400,1796557200,0,'planned',0,0,1,1795751859);
INSERT INTO "booking" VALUES(13,1,'hand-over','hand-over','Hand over',NULL,1796557200,1796557800,1,'planned',0,0,1,1795751859);
CREATE TABLE booking_use (
    id integer primary key,
    booking_id integer not null references booking on delete cascade,
    resource_id integer not null references resource,
    amount integer not null check (amount > 0),
    -- May last longer than the booking: clamps stay on until the panel is freed.
    from_at integer not null,
    to_at integer not null check (to_at >= from_at)
) strict;
INSERT INTO "booking_use" VALUES(1,1,3,1,1795770000,1795771200);
INSERT INTO "booking_use" VALUES(2,2,2,1,1795771200,1795772100);
INSERT INTO "booking_use" VALUES(3,3,2,1,1795772100,1795774500);
INSERT INTO "booking_use" VALUES(4,3,1,2,1795772100,1795857600);
INSERT INTO "booking_use" VALUES(5,4,7,1,1795856400,1795857600);
INSERT INTO "booking_use" VALUES(6,5,6,1,1795857600,1795858800);
INSERT INTO "booking_use" VALUES(7,6,3,1,1795858800,1795860000);
INSERT INTO "booking_use" VALUES(8,7,6,1,1795860000,1795862400);
INSERT INTO "booking_use" VALUES(9,8,7,1,1795862400,1795864200);
INSERT INTO "booking_use" VALUES(10,8,8,1,1795862400,1796039400);
INSERT INTO "booking_use" VALUES(11,9,7,1,1795950600,1795952400);
CREATE TABLE cancelled_booking (
    booking_id integer primary key,
    project_id integer not null,
    member_id integer not null,
    name text not null,
    from_at integer not null,
    to_at integer not null,
    sequence integer not null,
    cancelled_at integer not null
) strict;
CREATE TABLE change (
    id integer primary key autoincrement,
    at integer not null,
    member_id integer references member,
    verb text not null,
    noun text not null,
    noun_id text not null,
    detail text not null default ''
) strict;
INSERT INTO "change" VALUES(1,1795751858,1,'created','bin','1','Pale');
INSERT INTO "change" VALUES(2,1795751858,1,'created','bin','2','Dark');
INSERT INTO "change" VALUES(3,1795751858,1,'created','offcut','1','A001');
INSERT INTO "change" VALUES(4,1795751858,1,'created','offcut','2','A002');
INSERT INTO "change" VALUES(5,1795751858,1,'created','offcut','3','A003');
INSERT INTO "change" VALUES(6,1795751858,1,'created','offcut','4','A004');
INSERT INTO "change" VALUES(7,1795751858,1,'created','resource','1','long clamps');
INSERT INTO "change" VALUES(8,1795751858,1,'created','resource','2','glue bench');
INSERT INTO "change" VALUES(9,1795751858,1,'created','resource','3','table saw');
INSERT INTO "change" VALUES(10,1795751858,1,'created','resource','4','crosscut saw');
INSERT INTO "change" VALUES(11,1795751858,1,'created','resource','5','planer');
INSERT INTO "change" VALUES(12,1795751858,1,'created','resource','6','sander');
INSERT INTO "change" VALUES(13,1795751858,1,'created','resource','7','work bench');
INSERT INTO "change" VALUES(14,1795751858,1,'created','resource','8','rack place');
INSERT INTO "change" VALUES(15,1795751858,1,'created','weekly opening','1','');
INSERT INTO "change" VALUES(16,1795751858,1,'created','weekly opening','2','');
INSERT INTO "change" VALUES(17,1795751858,1,'created','weekly opening','3','');
INSERT INTO "change" VALUES(18,1795751858,1,'created','weekly opening','4','');
INSERT INTO "change" VALUES(19,1795751858,1,'created','weekly opening','5','');
INSERT INTO "change" VALUES(20,1795751859,1,'created','weekly opening','6','');
INSERT INTO "change" VALUES(21,1795751859,1,'created','weekly opening','7','');
INSERT INTO "change" VALUES(22,1795751859,1,'created','project','1','Board for the fair');
INSERT INTO "change" VALUES(23,1795751859,1,'matched','project','1','3 of 3 strips');
INSERT INTO "change" VALUES(24,1795751859,1,'reached','project','1','matched');
INSERT INTO "change" VALUES(25,1795751859,1,'claimed','offcut','2','project 1, 2 pieces');
INSERT INTO "change" VALUES(26,1795751859,1,'claimed','offcut','4','project 1, 1 pieces');
INSERT INTO "change" VALUES(27,1795751859,1,'reached','project','1','claimed');
INSERT INTO "change" VALUES(28,1795751859,1,'created','offcut','5','A005');
INSERT INTO "change" VALUES(29,1795751859,1,'cut','offcut','2','1 for project 1');
INSERT INTO "change" VALUES(30,1795751859,1,'booked','booking','1','Mill and rip');
INSERT INTO "change" VALUES(31,1795751859,1,'booked','booking','2','Dry fit');
INSERT INTO "change" VALUES(32,1795751859,1,'booked','booking','3','Glue up');
INSERT INTO "change" VALUES(33,1795751859,1,'booked','booking','4','Unclamp and scrape');
INSERT INTO "change" VALUES(34,1795751859,1,'booked','booking','5','Flatten');
INSERT INTO "change" VALUES(35,1795751859,1,'booked','booking','6','Square to size');
INSERT INTO "change" VALUES(36,1795751859,1,'booked','booking','7','Round over and sand');
INSERT INTO "change" VALUES(37,1795751859,1,'booked','booking','8','Coat 1');
INSERT INTO "change" VALUES(38,1795751859,1,'booked','booking','9','Coat 2');
INSERT INTO "change" VALUES(39,1795751859,1,'booked','booking','10','Dry');
INSERT INTO "change" VALUES(40,1795751859,1,'booked','booking','11','Off the rack');
INSERT INTO "change" VALUES(41,1795751859,1,'booked','booking','12','Cure');
INSERT INTO "change" VALUES(42,1795751859,1,'booked','booking','13','Hand over');
INSERT INTO "change" VALUES(43,1795751859,1,'changed','bin','1','Pale maple');
CREATE TABLE claim (
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
INSERT INTO "claim" VALUES(1,1,2,1,1,'held','2026-12-11',1,1795751859,NULL,2);
INSERT INTO "claim" VALUES(2,1,4,1,0,'held','2026-12-11',1,1795751859,NULL,1);
CREATE TABLE closure (
    id integer primary key,
    from_day text not null,
    to_day text not null check (to_day >= from_day),
    reason text not null default '',
    version integer not null default 1
) strict;
CREATE TABLE extra_opening (
    id integer primary key,
    on_day text not null,
    from_minute integer not null check (from_minute between 0 and 1439),
    to_minute integer not null check (to_minute between 1 and 1440 and to_minute > from_minute),
    machines integer not null default 1 check (machines in (0, 1)),
    note text not null default '',
    version integer not null default 1
) strict;
CREATE TABLE idempotency (
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
CREATE TABLE invitation (
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
INSERT INTO "invitation" VALUES(1,X'B4227AFC1174A76B88059C0A89EBC0624B39ED1DCBEC4D8AD23510BC3D949FE5','first steward','steward','',1,NULL,1795751850,1795838250,1795751854);
INSERT INTO "invitation" VALUES(2,X'B21AA2005A88B540D08457AA489B80350B2E60FF24A0FBBFD30B94F8AE89BCB2','invitation','member','Bram',2,1,1795751854,1796356654,1795751858);
CREATE TABLE layout (
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
INSERT INTO "layout" VALUES(1,1,0,1,NULL,2,1,'{"layout":{"copies":2,"cut":"crosscut","parts":[{"cut":"rip","parts":[{"cut":"crosscut","parts":[{"size":368.3,"strip":"P1-s1"}],"size":50.8},{"size":7.9375,"waste":true}],"size":368.3},{"keep":true,"size":276.225}],"stock":"A002"},"made_for":{"buy":[{"id":"A002","length":660.4,"price":0.0,"species":"hard maple","square_ends":false,"straight_edges":false,"thickness":22.225,"unusable":[],"width":63.5}],"shop":{"crosscut_kerf":3.175,"edge_trim":1.5875,"end_trim":6.35,"keep_credit":0.75,"keep_length":203.2,"keep_width":19.05,"min_rip_length":304.8,"rip_kerf":3.175},"stock":[],"strips":[]}}');
INSERT INTO "layout" VALUES(2,1,1,2,NULL,1,0,'{"layout":{"copies":1,"cut":"crosscut","parts":[{"cut":"rip","parts":[{"cut":"crosscut","parts":[{"size":368.3,"strip":"P1-s2"}],"size":25.4},{"keep":true,"size":46.0375}],"size":368.3},{"keep":true,"size":225.425}],"stock":"A004"},"made_for":{"buy":[{"id":"A004","length":609.6,"price":0.0,"species":"black walnut","square_ends":false,"straight_edges":false,"thickness":22.225,"unusable":[],"width":76.2}],"shop":{"crosscut_kerf":3.175,"edge_trim":1.5875,"end_trim":6.35,"keep_credit":0.75,"keep_length":203.2,"keep_width":19.05,"min_rip_length":304.8,"rip_kerf":3.175},"stock":[],"strips":[]}}');
CREATE TABLE layout_strip (
    layout_id integer not null references layout on delete cascade,
    project_id integer not null references project,
    strip_key text not null,
    count integer not null check (count > 0),
    primary key (layout_id, project_id, strip_key)
) strict, without rowid;
INSERT INTO "layout_strip" VALUES(1,1,'s1',1);
INSERT INTO "layout_strip" VALUES(2,1,'s2',1);
CREATE TABLE ledger (
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
INSERT INTO "ledger" VALUES(1,1795751858,'2026-11',1,'added',1,NULL,'hard maple',2,2236834,0,0,'');
INSERT INTO "ledger" VALUES(2,1795751858,'2026-11',1,'added',2,NULL,'hard maple',2,1864028,0,0,'');
INSERT INTO "ledger" VALUES(3,1795751858,'2026-11',1,'added',3,NULL,'hard maple',2,2982446,0,0,'');
INSERT INTO "ledger" VALUES(4,1795751858,'2026-11',1,'added',4,NULL,'black walnut',1,1032385,0,0,'');
INSERT INTO "ledger" VALUES(5,1795751859,'2026-11',1,'remainder',5,1,'hard maple',1,98322,0,0,'');
INSERT INTO "ledger" VALUES(6,1795751859,'2026-11',1,'cut',2,1,'hard maple',-1,-932014,415822,417870,'');
CREATE TABLE ledger_sum (
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
INSERT INTO "ledger_sum" VALUES('2026-11','added','black walnut',0,1,1032385,0,0);
INSERT INTO "ledger_sum" VALUES('2026-11','added','hard maple',0,6,7083308,0,0);
INSERT INTO "ledger_sum" VALUES('2026-11','cut','hard maple',1,-1,-932014,415822,417870);
INSERT INTO "ledger_sum" VALUES('2026-11','remainder','hard maple',1,1,98322,0,0);
CREATE TABLE lumber (
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
CREATE TABLE member (
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
INSERT INTO "member" VALUES(1,'Odile Marram','odile','$argon2id$v=19$m=19456,t=2,p=1$X1wzo4u2gi3miqWG4m5OhA$Hqg07wE4r8dq9FPJoKMiSZoMEyG6KZoGP7uR7Mqoh/s','steward','in',16,'1111111',NULL,1,1,1795751854);
INSERT INTO "member" VALUES(2,'Bram Tench','bram','$argon2id$v=19$m=19456,t=2,p=1$xSJmFvIaN+MWzIM43zGXRA$Kqppp/z0xojsNzsH726sqXxjADvnnvvZ9KbyfjuUj4g','member','in',16,'1111111',NULL,1,1,1795751858);
CREATE TABLE notice_address (
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
CREATE TABLE offcut (
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
INSERT INTO "offcut" VALUES(1,'A001','hard maple',660400000,76200000,22225000,1118417,2,'[]',0,0,'unknown',NULL,1,NULL,'from a table top','in bin',1,1795751858,1);
INSERT INTO "offcut" VALUES(2,'A002','hard maple',660400000,63500000,22225000,932014,1,'[]',0,0,'unknown',NULL,1,NULL,'from a table top','in bin',1,1795751858,2);
INSERT INTO "offcut" VALUES(3,'A003','hard maple',660400000,101600000,22225000,1491223,2,'[]',0,0,'unknown',NULL,1,NULL,'from a table top','in bin',1,1795751858,1);
INSERT INTO "offcut" VALUES(4,'A004','black walnut',609600000,76200000,22225000,1032385,1,'[]',0,0,'unknown',NULL,2,NULL,'','in bin',1,1795751858,1);
INSERT INTO "offcut" VALUES(5,'A005','hard maple',203200000,25400000,19050000,98322,1,'[]',0,0,'unknown',NULL,2,2,'','in bin',1,1795751859,1);
CREATE TABLE photo (
    offcut_id integer primary key references offcut on delete cascade,
    media_type text not null,
    bytes blob not null,
    width integer not null,
    height integer not null,
    added_at integer not null
) strict;
CREATE TABLE project (
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
INSERT INTO "project" VALUES(1,1,'Board for the fair','striped-board','{"edge":{"shape":"eased"},"kind":"striped-board","length":355.6,"strips":[{"species":"hard maple","width":50.8},{"species":"black walnut","width":25.4},{"species":"hard maple","width":50.8}],"surface":"face grain","thickness":19.05,"width":127}','{}','claimed',NULL,'',1,NULL,NULL,NULL,NULL,4,1795751859);
CREATE TABLE proposal (
    id integer primary key,
    kind text not null check (kind in ('match', 'plan')),
    member_id integer not null references member,
    -- What it was made for, so that it is refused when that has changed.
    made_for text not null check (json_valid(made_for)),
    answer text not null check (json_valid(answer)),
    created_at integer not null,
    accepted_at integer
) strict;
INSERT INTO "proposal" VALUES(1,'plan',1,'{"projects":[[1,1]],"bookings":[]}','{"steps":[{"project":1,"step":"mill","kind":"mill","name":"Mill and rip","clamp_load":null,"from_at":1795770000,"to_at":1795771200,"attended":true,"uses":[{"resource":3,"amount":1,"from_at":1795770000,"to_at":1795771200}]},{"project":1,"step":"dry-fit","kind":"dry-fit","name":"Dry fit","clamp_load":null,"from_at":1795771200,"to_at":1795772100,"attended":true,"uses":[{"resource":2,"amount":1,"from_at":1795771200,"to_at":1795772100}]},{"project":1,"step":"glue-up","kind":"glue-up","name":"Glue up","clamp_load":null,"from_at":1795772100,"to_at":1795774500,"attended":true,"uses":[{"resource":2,"amount":1,"from_at":1795772100,"to_at":1795774500},{"resource":1,"amount":2,"from_at":1795772100,"to_at":1795857600}]},{"project":1,"step":"unclamp","kind":"unclamp","name":"Unclamp and scrape","clamp_load":null,"from_at":1795856400,"to_at":1795857600,"attended":true,"uses":[{"resource":7,"amount":1,"from_at":1795856400,"to_at":1795857600}]},{"project":1,"step":"flatten","kind":"flatten","name":"Flatten","clamp_load":null,"from_at":1795857600,"to_at":1795858800,"attended":true,"uses":[{"resource":6,"amount":1,"from_at":1795857600,"to_at":1795858800}]},{"project":1,"step":"square","kind":"square","name":"Square to size","clamp_load":null,"from_at":1795858800,"to_at":1795860000,"attended":true,"uses":[{"resource":3,"amount":1,"from_at":1795858800,"to_at":1795860000}]},{"project":1,"step":"round-over-and-sand","kind":"round-over-and-sand","name":"Round over and sand","clamp_load":null,"from_at":1795860000,"to_at":1795862400,"attended":true,"uses":[{"resource":6,"amount":1,"from_at":1795860000,"to_at":1795862400}]},{"project":1,"step":"coat-1","kind":"coat","name":"Coat 1","clamp_load":null,"from_at":1795862400,"to_at":1795864200,"attended":true,"uses":[{"resource":7,"amount":1,"from_at":1795862400,"to_at":1795864200},{"resource":8,"amount":1,"from_at":1795862400,"to_at":1796039400}]},{"project":1,"step":"coat-2","kind":"coat","name":"Coat 2","clamp_load":null,"from_at":1795950600,"to_at":1795952400,"attended":true,"uses":[{"resource":7,"amount":1,"from_at":1795950600,"to_at":1795952400}]},{"project":1,"step":"drying","kind":"drying","name":"Dry","clamp_load":null,"from_at":1795952400,"to_at":1796038800,"attended":false,"uses":[]},{"project":1,"step":"off-rack","kind":"off-rack","name":"Off the rack","clamp_load":null,"from_at":1796038800,"to_at":1796039400,"attended":true,"uses":[]},{"project":1,"step":"cure","kind":"cure","name":"Cure","clamp_load":null,"from_at":1795952400,"to_at":1796557200,"attended":false,"uses":[]},{"project":1,"step":"hand-over","kind":"hand-over","name":"Hand over","clamp_load":null,"from_at":1796557200,"to_at":1796557800,"attended":true,"uses":[]}],"before":[],"ready":[{"project":1,"name":"Board for the fair","ready_at":1796557800,"due_day":null,"late_minutes":0}],"tardiness":"0","tardiness_bound":"0","finish_at":1796557800,"finish_bound_at":1796557800,"proven":true,"moved":0,"unlisted":[],"overdue":[],"seconds":0.010532007}',1795751859,1795751859);
CREATE TABLE resource (
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
INSERT INTO "resource" VALUES(1,'clamp set','long clamps',9,914400000,4000,NULL,1);
INSERT INTO "resource" VALUES(2,'glue bench','glue bench',1,NULL,NULL,NULL,1);
INSERT INTO "resource" VALUES(3,'table saw','table saw',1,NULL,NULL,NULL,1);
INSERT INTO "resource" VALUES(4,'crosscut saw','crosscut saw',1,NULL,NULL,NULL,1);
INSERT INTO "resource" VALUES(5,'planer','planer',1,NULL,NULL,NULL,1);
INSERT INTO "resource" VALUES(6,'sander','sander',2,NULL,NULL,NULL,1);
INSERT INTO "resource" VALUES(7,'work bench','work bench',2,NULL,NULL,NULL,1);
INSERT INTO "resource" VALUES(8,'rack place','rack place',4,NULL,NULL,NULL,1);
CREATE TABLE session (
    token_hash blob primary key check (length(token_hash) = 32),
    member_id integer not null references member on delete cascade,
    created_at integer not null,
    seen_at integer not null,
    ends_at integer not null
) strict, without rowid;
INSERT INTO "session" VALUES(X'14470B4370AF482F590B0EB0F6C3C298A1DE18ACEAAAC0E278CFFDBBF2A5C65E',1,1795751854,1795751854,1803527854);
INSERT INTO "session" VALUES(X'B27C8CDABC591A32C6B58E22CB295A7F7F6FEFEF9ADDF91D9C7D33C3696069B6',2,1795751858,1795751858,1803527858);
CREATE TABLE species_price (
    species text primary key collate nocase,
    -- Per board foot of wood from the bins; null in the table of settings means nil.
    price_cents integer not null check (price_cents >= 0)
) strict;
ANALYZE "sqlite_master";
INSERT INTO "sqlite_stat1" VALUES('change','change_noun','43 8 2');
INSERT INTO "sqlite_stat1" VALUES('ledger_sum','ledger_sum','4 4 2 1 1');
INSERT INTO "sqlite_stat1" VALUES('booking_use','booking_use_booking','11 2');
INSERT INTO "sqlite_stat1" VALUES('booking_use','booking_use_resource','11 2 1');
INSERT INTO "sqlite_stat1" VALUES('layout_strip','layout_strip_project','2 2');
INSERT INTO "sqlite_stat1" VALUES('layout_strip','layout_strip','2 1 1 1');
INSERT INTO "sqlite_stat1" VALUES('resource','sqlite_autoindex_resource_1','8 1');
INSERT INTO "sqlite_stat1" VALUES('session','session_member','2 1');
INSERT INTO "sqlite_stat1" VALUES('session','session','2 1');
INSERT INTO "sqlite_stat1" VALUES('member','sqlite_autoindex_member_2','2 2');
INSERT INTO "sqlite_stat1" VALUES('member','sqlite_autoindex_member_1','2 1');
INSERT INTO "sqlite_stat1" VALUES('invitation','sqlite_autoindex_invitation_1','2 1');
INSERT INTO "sqlite_stat1" VALUES('strip','strip','2 2 1');
INSERT INTO "sqlite_stat1" VALUES('layout','layout_claim','2 1');
INSERT INTO "sqlite_stat1" VALUES('layout','layout_project','2 2');
INSERT INTO "sqlite_stat1" VALUES('project','project_member','1 1 1');
INSERT INTO "sqlite_stat1" VALUES('offcut','offcut_parent','1 1');
INSERT INTO "sqlite_stat1" VALUES('offcut','offcut_age','5 3 2 1');
INSERT INTO "sqlite_stat1" VALUES('offcut','offcut_species','5 3 2 1');
INSERT INTO "sqlite_stat1" VALUES('offcut','offcut_bin','5 3 2 1');
INSERT INTO "sqlite_stat1" VALUES('offcut','sqlite_autoindex_offcut_1','5 1');
INSERT INTO "sqlite_stat1" VALUES('api_token','sqlite_autoindex_api_token_1','1 1');
INSERT INTO "sqlite_stat1" VALUES('claim','claim_project','2 2');
INSERT INTO "sqlite_stat1" VALUES('claim','claim_held_day','2 2');
INSERT INTO "sqlite_stat1" VALUES('claim','claim_held_offcut','2 1');
INSERT INTO "sqlite_stat1" VALUES('bin','sqlite_autoindex_bin_1','2 1');
INSERT INTO "sqlite_stat1" VALUES('booking','booking_time','13 1');
INSERT INTO "sqlite_stat1" VALUES('booking','sqlite_autoindex_booking_1','13 13 1');
INSERT INTO "sqlite_stat1" VALUES('_sqlx_migrations','sqlite_autoindex__sqlx_migrations_1','1 1');
INSERT INTO "sqlite_stat1" VALUES('ledger','ledger_project','2 2 2');
INSERT INTO "sqlite_stat1" VALUES('ledger','ledger_member','6 6 3');
INSERT INTO "sqlite_stat1" VALUES('ledger','ledger_species','6 3 2');
INSERT INTO "sqlite_stat1" VALUES('ledger','ledger_offcut','6 2 1');
INSERT INTO "sqlite_stat1" VALUES('ledger','ledger_at','6 3');
CREATE TABLE strip (
    project_id integer not null references project on delete cascade,
    key text not null,
    count integer not null check (count > 0),
    length_nm integer not null check (length_nm > 0),
    species text not null check (json_valid(species)),
    -- [{"rip_nm": .., "thickness_nm": ..}, ..]: the alternative ways to have it.
    sections text not null check (json_valid(sections)),
    primary key (project_id, key)
) strict, without rowid;
INSERT INTO "strip" VALUES(1,'s1',2,368300000,'["hard maple"]','[{"rip_nm":50800000,"thickness_nm":22225000}]');
INSERT INTO "strip" VALUES(1,'s2',1,368300000,'["black walnut"]','[{"rip_nm":25400000,"thickness_nm":22225000}]');
CREATE TABLE weekly_opening (
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
INSERT INTO "weekly_opening" VALUES(1,1,540,1260,1,'2026-11-27',NULL,1);
INSERT INTO "weekly_opening" VALUES(2,2,540,1260,1,'2026-11-27',NULL,1);
INSERT INTO "weekly_opening" VALUES(3,3,540,1260,1,'2026-11-27',NULL,1);
INSERT INTO "weekly_opening" VALUES(4,4,540,1260,1,'2026-11-27',NULL,1);
INSERT INTO "weekly_opening" VALUES(5,5,540,1260,1,'2026-11-27',NULL,1);
INSERT INTO "weekly_opening" VALUES(6,6,540,1260,1,'2026-11-27',NULL,1);
INSERT INTO "weekly_opening" VALUES(7,7,540,1260,1,'2026-11-27',NULL,1);
CREATE TABLE workshop (
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
INSERT INTO "workshop" VALUES(1,'Workshop','UTC','{}',6,1,0);
CREATE TABLE workshop_species (
    name text primary key collate nocase check (length(name) between 1 and 60),
    figures text not null check (json_valid(figures)),
    version integer not null default 1,
    changed_at integer not null
) strict;
CREATE INDEX session_member on session (member_id);
CREATE INDEX project_member on project (member_id, ended_at);
CREATE INDEX offcut_bin on offcut (bin_id, count, volume_mm3) where count > 0;
CREATE INDEX offcut_species on offcut (species, count, volume_mm3) where count > 0;
CREATE INDEX offcut_age on offcut (added_at, count, volume_mm3) where count > 0;
CREATE INDEX offcut_parent on offcut (parent_id) where parent_id is not null;
CREATE INDEX claim_held_offcut on claim (offcut_id) where state = 'held';
CREATE INDEX claim_held_day on claim (last_day) where state = 'held';
CREATE INDEX claim_project on claim (project_id);
CREATE INDEX layout_project on layout (project_id);
CREATE INDEX layout_claim on layout (claim_id) where claim_id is not null;
CREATE INDEX layout_strip_project on layout_strip (project_id);
CREATE TRIGGER claim_is_free before insert on claim
when new.state = 'held' and new.pieces + (select coalesce(sum(pieces), 0) from claim where offcut_id = new.offcut_id and state = 'held')
    > (select count from offcut where id = new.offcut_id)
begin
    select raise(abort, 'piece already claimed');
end;
CREATE TRIGGER claim_stays_free before update on claim
when new.state = 'held' and new.pieces + (select coalesce(sum(pieces), 0) from claim
        where offcut_id = new.offcut_id and state = 'held' and id <> new.id)
    > (select count from offcut where id = new.offcut_id)
begin
    select raise(abort, 'piece already claimed');
end;
CREATE TRIGGER claim_ends_once before update of state on claim
when old.state <> 'held' and new.state <> old.state
begin
    select raise(abort, 'claim already ended');
end;
CREATE TRIGGER offcut_covers_claims before update of count on offcut
when new.count < (select coalesce(sum(pieces), 0) from claim where offcut_id = new.id and state = 'held')
begin
    select raise(abort, 'pieces are claimed');
end;
CREATE INDEX booking_time on booking (to_at);
CREATE INDEX booking_use_resource on booking_use (resource_id, to_at);
CREATE INDEX booking_use_booking on booking_use (booking_id);
CREATE TRIGGER booking_use_fits before insert on booking_use
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
CREATE TRIGGER booking_use_stays before update on booking_use
begin
    select raise(abort, 'a use is replaced, not changed');
end;
CREATE TRIGGER resource_covers_use before update of capacity on resource
when new.capacity < old.capacity and exists (
    select 1 from booking_use as moment
    where moment.resource_id = new.id and moment.to_at > moment.from_at
        and (select coalesce(sum(amount), 0) from booking_use
             where resource_id = new.id and to_at > moment.from_at and from_at <= moment.from_at) > new.capacity)
begin
    select raise(abort, 'resource in use');
end;
CREATE INDEX ledger_at on ledger (at);
CREATE INDEX ledger_offcut on ledger (offcut_id, at);
CREATE INDEX ledger_species on ledger (species, at);
CREATE INDEX ledger_member on ledger (member_id, at);
CREATE INDEX ledger_project on ledger (project_id, at) where project_id is not null;
CREATE TRIGGER ledger_is_not_changed before update on ledger
begin
    select raise(abort, 'the ledger is only added to');
end;
CREATE TRIGGER ledger_is_not_cut before delete on ledger
begin
    select raise(abort, 'the ledger is only added to');
end;
CREATE TRIGGER ledger_is_summed after insert on ledger
begin
    insert into ledger_sum (month, what, species, member_id, pieces, volume_mm3, strips_mm3, waste_mm3)
    values (new.month, new.what, new.species, coalesce((select member_id from project where id = new.project_id), 0),
        new.pieces, new.volume_mm3, new.strips_mm3, new.waste_mm3)
    on conflict do update set pieces = pieces + excluded.pieces, volume_mm3 = volume_mm3 + excluded.volume_mm3,
        strips_mm3 = strips_mm3 + excluded.strips_mm3, waste_mm3 = waste_mm3 + excluded.waste_mm3;
end;
CREATE INDEX change_noun on change (noun, noun_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('change',43);
COMMIT;
