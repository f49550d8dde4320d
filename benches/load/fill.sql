-- Turns the invented workshop into one that has run for five years. ?1 pieces lie in its bins, ?2 rows stand in its
-- ledger. Statements end with a line of two dashes.
create temp table wanted (pieces, gone, members, bins, open_projects, ended_projects, now, first_member, first_bin, first_offcut, first_project, first_booking);
--
insert into wanted
select ?1, (?2 - ?1) / 2, ?1 / 50, ?1 / 250, ?1 / 100, ?1 / 20, unixepoch(),
    (select max(id) from member), (select max(id) from bin), (select max(id) from offcut), (select max(id) from project),
    (select max(id) from booking);
--
insert into member (name, sign_in_name, role, created_at)
with recursive n(i) as (select 1 union all select i + 1 from n where i < (select members from wanted))
select 'Member ' || i, 'member-' || i, 'member', now - 157680000 from n, wanted;
--
insert into bin (name, place)
with recursive n(i) as (select 1 union all select i + 1 from n where i < (select bins from wanted))
select 'Shelf ' || i, 'Row ' || (i / 20 + 1) from n;
--
-- Pieces that lie there are mixed with those that are gone, as they came in over the years. Sizes are whole millimetres.
insert into offcut (tag, species, length_nm, width_nm, thickness_nm, volume_mm3, count, bin_id, note, state, added_by, added_at)
with recursive n(i) as (select 1 union all select i + 1 from n where i < (select pieces + gone from wanted)),
size as (
    select i, i * 2654435761 % 4294967296 as mixed, (i * 40503 % 65536) as fine,
        150 + i * 7919 % 750 as length, 25 + i * 104729 % 120 as width, 12 + i * 1299709 % 33 as thickness
    from n)
select 'L' || i, json_extract('["hard maple", "black walnut", "black cherry", "white oak", "white ash", "hard maple", "black walnut", "red oak"]', '$[' || (mixed % 8) || ']'),
    length * 1000000, width * 1000000, thickness * 1000000, length * width * thickness,
    mixed % (pieces + gone) < pieces, first_bin + 1 + fine % bins, iif(i % 20 = 0, 'from a table top, one edge waney', ''),
    iif(mixed % (pieces + gone) < pieces, 'in bin', 'gone'), first_member + 1 + fine % members,
    now - 157680000 + i * 157000000 / (pieces + gone)
from size, wanted;
--
insert into ledger (at, month, member_id, what, offcut_id, species, pieces, volume_mm3)
select added_at, strftime('%Y-%m', added_at, 'unixepoch'), added_by, 'added', id, species, 1, volume_mm3
from offcut, wanted where id > first_offcut
union all
select at, strftime('%Y-%m', at, 'unixepoch'), added_by, 'gone', id, species, -1, -volume_mm3
from (select offcut.*, min(added_at + id % 40000000, now) as at from offcut, wanted where id > first_offcut and count = 0)
order by 1;
--
insert into change (at, member_id, verb, noun, noun_id)
select at, member_id, iif(what = 'added', 'created', 'gone'), 'offcut', offcut_id from ledger order by at;
--
-- Projects are copies of the invented workshop's. Those that are open each hold a piece.
insert into project (member_id, name, kind, design, practice, stage, due_day, created_at, ended_at)
with recursive n(i) as (select 1 union all select i + 1 from n where i < (select open_projects + ended_projects from wanted))
select first_member + 1 + i % members, project.name || ' ' || i, kind, design, practice,
    iif(i <= ended_projects, 'handed over', 'drawn'), date(now + (i % 60 + 20) * 86400, 'unixepoch'),
    now - 157680000 + i * 157000000 / (open_projects + ended_projects),
    iif(i <= ended_projects, now - 150000000 + i * 149000000 / (open_projects + ended_projects), null)
from n, wanted join project on project.id = 1 + i % first_project;
--
insert into strip (project_id, key, count, length_nm, species, sections)
select project.id, key, count, length_nm, species, sections
from wanted join project on project.id > first_project
join strip on strip.project_id = 1 + (project.id - first_project) % first_project;
--
insert into claim (project_id, offcut_id, pieces, last_day, claimed_by, claimed_at)
select project_id, offcut_id, 1, date(now + 864000, 'unixepoch'), member_id, now - 86400
from wanted
join (select row_number() over (order by id) as place, id as project_id, member_id from project, wanted where id > first_project and ended_at is null)
join (select row_number() over (order by id desc) as place, id as offcut_id from offcut, wanted where id > first_offcut and count > 0 order by id desc limit (select open_projects * 3 from wanted))
    using (place);
--
-- What was glued up and done before, each alone in its hour.
insert into booking (project_id, step, kind, name, from_at, to_at, attended, state, changed_at)
with recursive n(i) as (select 0 union all select i + 1 from n where i < 5),
hour as (
    select project.id, i, (now - 155000000 + ((project.id - first_project - 1) * 6 + i) * (150000000 / (ended_projects * 6))) / 3600 * 3600 as at
    from wanted join project on project.id > first_project and ended_at is not null join n)
select id, 'step ' || i, 'glue up', 'Glue up ' || i, at, at + 3600, 1, 'done', at from hour;
--
insert into booking_use (booking_id, resource_id, amount, from_at, to_at)
select booking.id, (select min(id) from resource where kind = 'clamp set'), 1, from_at, from_at + 600
from wanted join booking on booking.id > first_booking order by from_at;
--
drop table wanted;
