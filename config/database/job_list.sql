-- The plain job list: open builds, worst first. What is late comes first, by its promise; then a blocking finding, then what
-- is on hold, then the rest, each by its promise; what is delivered comes last. Every branch is read off the end of an index,
-- so that a page costs the same whether the shop has fifty builds or five thousand; inside a function the plan is made once
-- per connection. The expressions are those of the indexes builds_build_by_promise and builds_build_by_standing, to the letter.

drop function if exists baywright_job_list(timestamptz, int, int);

create function baywright_job_list(moment timestamptz, page_rows int, skipped int) returns table (
    number varchar, title varchar, customer_id bigint, buyer varchar, unit varchar, stage varchar, promised_on date, plan_ends_on date,
    hold_reason varchar, hold_who_acts varchar, hold_note varchar, blocking_count int, step_count int, step_done_count int,
    responsible varchar, today date, vehicle_here boolean, parts_here boolean, gear_here boolean, released boolean, signed boolean
) language plpgsql stable set search_path = public, pg_temp
-- One plan for every page, off the indexes: with the number of rows not known to it, the planner sometimes sorts them all.
set plan_cache_mode = force_generic_plan set enable_seqscan = off set enable_bitmapscan = off as $$
#variable_conflict use_column
declare
    zone text := coalesce((select time_zone from builds_shop limit 1), 'UTC');
    day date := timezone(zone, moment)::date;  -- the shop's calendar day
    last int := page_rows + skipped;
begin
    return query
    with page as materialized (
        select found.id, found.sort, found.promise, found.number from (
            (
                select b.id, 0 as sort, coalesce(b.promised_on, '9999-12-31'::date) as promise, b.number
                from builds_build b
                where not (b.stage in ('delivered', 'closed', 'cancelled')) and coalesce(b.promised_on, '9999-12-31'::date) < day
                order by coalesce(b.promised_on, '9999-12-31'::date), b.number limit last
            )
            union all (
                select b.id, 1, coalesce(b.promised_on, '9999-12-31'::date), b.number
                from builds_build b
                where not (b.stage in ('closed', 'cancelled'))
                    and case when b.stage = 'delivered' then 4 when b.blocking_count > 0 then 1
                        when not (b.hold_reason = '') then 2 else 3 end = 1 and coalesce(b.promised_on, '9999-12-31'::date) >= day
                order by coalesce(b.promised_on, '9999-12-31'::date), b.number limit last
            )
            union all (
                select b.id, 2, coalesce(b.promised_on, '9999-12-31'::date), b.number
                from builds_build b
                where not (b.stage in ('closed', 'cancelled'))
                    and case when b.stage = 'delivered' then 4 when b.blocking_count > 0 then 1
                        when not (b.hold_reason = '') then 2 else 3 end = 2 and coalesce(b.promised_on, '9999-12-31'::date) >= day
                order by coalesce(b.promised_on, '9999-12-31'::date), b.number limit last
            )
            union all (
                select b.id, 3, coalesce(b.promised_on, '9999-12-31'::date), b.number
                from builds_build b
                where not (b.stage in ('closed', 'cancelled'))
                    and case when b.stage = 'delivered' then 4 when b.blocking_count > 0 then 1
                        when not (b.hold_reason = '') then 2 else 3 end = 3 and coalesce(b.promised_on, '9999-12-31'::date) >= day
                order by coalesce(b.promised_on, '9999-12-31'::date), b.number limit last
            )
            union all (
                select b.id, 4, coalesce(b.promised_on, '9999-12-31'::date), b.number
                from builds_build b
                where not (b.stage in ('closed', 'cancelled'))
                    and case when b.stage = 'delivered' then 4 when b.blocking_count > 0 then 1
                        when not (b.hold_reason = '') then 2 else 3 end = 4
                order by coalesce(b.promised_on, '9999-12-31'::date), b.number limit last
            )
        ) as found
        order by found.sort, found.promise, found.number limit page_rows offset skipped
    )
    select
        b.number, b.title, b.customer_id, c.name, v.unit_number, b.stage, b.promised_on,
        (select timezone(zone, max(upper(k.during)))::date from builds_booking k where k.build_id = b.id),
        b.hold_reason, b.hold_who_acts, b.hold_note, b.blocking_count, b.step_count, b.step_done_count, p.short_name, day, m.vehicle_here, m.parts_here,
        m.gear_here, exists (select from builds_revision r where r.build_id = b.id),
        -- the newest packet that did not fail is rendered, of the newest revision, and signed: builds/selectors/packet_signed.py
        b.stage = 'ready' and exists (
            select from builds_acceptance a
            join builds_packetissue k on k.id = a.packet_id
            join builds_storedfile f on f.id = k.file_id
            where k.id = (
                    select n.id from builds_packetissue n
                    where n.build_id = b.id and not (n.state in ('failed', 'cancelled')) order by n.number desc limit 1
                )
                and k.state = 'ready' and a.file_sha256 = f.sha256
                and k.revision_id = (select r.id from builds_revision r where r.build_id = b.id order by r.sequence desc limit 1)
        )
    from page
    join builds_build b on b.id = page.id
    join builds_customer c on c.id = b.customer_id
    join builds_vehicle v on v.id = b.vehicle_id
    left join builds_person p on p.id = b.responsible_id
    left join builds_buildmatch m on m.build_id = b.id
    order by page.sort, page.promise, page.number;
end $$;
