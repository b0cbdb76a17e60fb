-- Whether vehicle, parts and gear of a build have come together. The job list reads it for twenty builds at once, so it
-- is kept beside each build and worked out where something changes: a parts bill, the stock ledger, the gear, a check-in.

create or replace function baywright_mark_matches(builds bigint[]) returns void
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    -- One writer at a time per build, in one order; what comes after reads what the writer before has kept.
    perform from builds_buildmatch where build_id = any(builds) order by build_id for update;
    insert into builds_buildmatch as kept (build_id, vehicle_here, parts_here, gear_here)
    select
        b.id,
        -- A vehicle is here for the build that its newest check-in belongs to.
        coalesce((
            select c.direction = 'in' and c.build_id = b.id from builds_checkin c
            where c.vehicle_id = b.vehicle_id order by c.at desc, c.id desc limit 1
        ), false),
        -- What the shop's lines ask for, against what the ledger keeps for the job or has handed to it: a reservation and
        -- an issue count alike, a return counts back.
        (
            select bool_and(need.quantity <= coalesce((
                select sum(e.reserved_change)
                    - coalesce(sum(e.on_hand_change) filter (where e.kind in ('issue', 'return')), 0)
                from inventory_stockentry e where e.job = b.number and e.part_id = need.part_id
            ), 0))
            from (
                select l.part_id, sum(l.quantity) as quantity from builds_partsbillline l
                where l.build_id = b.id and l.supplied_by = 'shop' and not l.removed group by l.part_id
            ) need
        ),
        -- Gear written down has come, and every line the customer brings is written down.
        (
            select bool_and(found.here) from (
                select g.received_at is not null as here from builds_customergear g where g.build_id = b.id
                union all
                select exists (
                    select from builds_customergear g where g.build_id = b.id and g.description = left(l.description, 120)
                )
                from builds_partsbillline l where l.build_id = b.id and l.supplied_by = 'customer' and not l.removed
            ) found
        )
    from builds_build b where b.id = any(builds)
    on conflict (build_id) do update
    set vehicle_here = excluded.vehicle_here, parts_here = excluded.parts_here, gear_here = excluded.gear_here
    where (kept.vehicle_here, kept.parts_here, kept.gear_here)
        is distinct from (excluded.vehicle_here, excluded.parts_here, excluded.gear_here);
end $$;

create or replace function baywright_match_new_builds() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    perform baywright_mark_matches((select array_agg(id) from changed));
    return null;
end $$;

create or replace function baywright_match_rows() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    perform baywright_mark_matches((select array_agg(distinct build_id) from changed));
    return null;
end $$;

create or replace function baywright_match_vehicles() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    perform baywright_mark_matches((
        select array_agg(distinct b.id) from builds_build b join changed c on c.vehicle_id = b.vehicle_id
    ));
    return null;
end $$;

create or replace function baywright_match_jobs() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    perform baywright_mark_matches((
        select array_agg(distinct b.id) from builds_build b join changed c on c.job = b.number
    ));
    return null;
end $$;
