-- One reading of the air becomes the first of several, each with its place and season. The season of the northern half
-- of the earth is taken from the month; a steward can correct it.
update workshop
set settings = json_set(json_remove(settings, '$.climate'), '$.air', json_array(json_object(
        'place', 'workshop',
        'season', case
            when strftime('%m', settings ->> '$.climate.read_at', 'unixepoch') in ('12', '01', '02') then 'winter'
            when strftime('%m', settings ->> '$.climate.read_at', 'unixepoch') in ('03', '04', '05') then 'spring'
            when strftime('%m', settings ->> '$.climate.read_at', 'unixepoch') in ('06', '07', '08') then 'summer'
            else 'autumn' end,
        'temperature_c', settings -> '$.climate.temperature_c',
        'relative_humidity_percent', settings -> '$.climate.relative_humidity_percent',
        'read_on', date(settings ->> '$.climate.read_at', 'unixepoch'))))
where json_type(settings, '$.climate') = 'object';
update workshop set settings = json_remove(settings, '$.climate') where json_type(settings, '$.climate') is not null;

-- A yard sells some boards by the board foot, as tallied, and may sell a part of one.
alter table lumber add column price_per text not null default 'board' check (price_per in ('board', 'board foot'));
-- As it is called in the trade, in quarters of an inch; null where the thickness itself says it.
alter table lumber add column quarters integer check (quarters between 4 and 32);
alter table lumber add column sold_in_parts integer not null default 0
    check (sold_in_parts in (0, 1) and (sold_in_parts = 0 or price_per = 'board foot'));
