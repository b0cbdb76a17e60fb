-- What the database guards by itself. Every function runs as its owner with a fixed search_path, so that the
-- application's role needs no right on what they write.

create or replace function baywright_write_history() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
declare
    old_row jsonb := case when tg_op <> 'INSERT' then to_jsonb(old) end;
    new_row jsonb := case when tg_op <> 'DELETE' then to_jsonb(new) end;
begin
    -- A table of the same name that someone made for themselves has no place in the history.
    if tg_table_schema <> 'public' then
        raise exception 'history is written for the tables of the shop alone' using errcode = 'insufficient_privilege';
    end if;
    -- A password hash has no business in a history that more people may read than the table itself.
    old_row := old_row - 'password' - 'last_login';
    new_row := new_row - 'password' - 'last_login';
    if tg_op = 'UPDATE' and old_row = new_row then
        return null;
    end if;
    insert into builds_historyentry (at, table_name, row_id, operation, actor, before, after)
    values (
        clock_timestamp(), tg_table_name, coalesce(new_row, old_row) ->> 'id', lower(tg_op),
        coalesce(current_setting('baywright.actor', true), ''), old_row, new_row
    );
    return null;
end $$;

create or replace function baywright_refuse_change() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    raise exception '% is append-only: its rows are never changed or removed', tg_table_name
        using errcode = 'integrity_constraint_violation';
end $$;

create or replace function baywright_move_stock() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if tg_relid <> 'public.inventory_stockentry'::regclass then
        raise exception 'stock is moved by its ledger alone' using errcode = 'insufficient_privilege';
    end if;
    insert into inventory_stockbalance (part_id, on_hand, reserved) values (new.part_id, 0, 0)
    on conflict (part_id) do nothing;
    -- The checks of the balance row refuse what would go below zero; its lock puts two writers in order.
    update inventory_stockbalance
    set on_hand = on_hand + new.on_hand_change, reserved = reserved + new.reserved_change
    where part_id = new.part_id;
    return null;
end $$;

-- Who had a hand in a step: anyone who ticked it, or clocked time on it or on its operation. The pages ask it too, so it
-- runs with the rights of whoever asks.
create or replace function baywright_hand_in_step(step bigint, person bigint) returns timestamptz
language sql stable set search_path = public, pg_temp as $$
    select max(at) from (
        select t.at from builds_tick t where t.step_id = step and t.by_id = person
        union all
        -- An end that was corrected counts by the latest it ever said.
        select coalesce(greatest(e.ended_at, (
            select max((h.before ->> 'ended_at')::timestamptz) from builds_historyentry h
            where h.table_name = 'builds_timeentry' and h.row_id = e.id::text and e.ended_at is not null
        )), 'infinity') from builds_timeentry e
        join builds_checkliststep s on s.id = step
        where e.person_id = person and e.build_id = s.build_id
          and (e.step_id = s.id or (s.operation_key <> '' and e.operation_key = s.operation_key))
    ) hand
$$;

create or replace function baywright_guard_hold_signature() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
declare
    hold builds_checkliststep%rowtype;
    allowed text;
    zone text;
    hand timestamptz;
begin
    select * into hold from builds_checkliststep where id = new.step_id;
    if not hold.is_hold_point then
        raise exception 'step % is not a hold point', hold.key using errcode = 'check_violation',
            constraint = 'builds_holdsignature_is_hold_point';
    end if;
    -- The same lock as the guard on ticks and clock entries takes, so that neither can pass the other.
    perform pg_advisory_xact_lock(hashtext('baywright-hands'), hold.build_id::int);
    select max(baywright_hand_in_step(c.to_checkliststep_id, new.by_id)) into hand
    from builds_checkliststep_covers c where c.from_checkliststep_id = new.step_id;
    hand := greatest(hand, baywright_hand_in_step(new.step_id, new.by_id));
    select coalesce(max(r.text_value), 'inspector') into allowed
    from builds_build b join builds_buyerrule r on r.profile_id = b.profile_id and r.key = 'hold-signer'
    where b.id = hold.build_id;
    if new.basis <> allowed then
        raise exception 'this buyer asks for another signer: %', allowed using errcode = 'check_violation',
            constraint = 'builds_holdsignature_basis_is_buyers';
    end if;
    if hand is null then
        return new;
    end if;
    if new.basis = 'self_after_night' and hand <> 'infinity' then
        select coalesce(max(s.time_zone), 'UTC') into zone from builds_shop s;
        if (hand at time zone zone)::date < (new.at at time zone zone)::date then
            return new;
        end if;
    end if;
    raise exception 'a hold point is signed by someone with no tick and no clock entry on what it covers'
        using errcode = 'check_violation', constraint = 'builds_holdsignature_four_eyes';
end $$;

-- The other direction: whoever has signed a hold point may not afterwards work on what it covers.
create or replace function baywright_guard_hand_in_step() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
declare
    person bigint;
    the_build bigint;
begin
    if tg_table_name = 'builds_tick' then
        person := new.by_id;
        select build_id into the_build from builds_checkliststep where id = new.step_id;
    else
        person := new.person_id;
        the_build := new.build_id;
    end if;
    perform pg_advisory_xact_lock(hashtext('baywright-hands'), the_build::int);
    if exists (
        select 1 from builds_holdsignature h
        join builds_checkliststep held on held.id = h.step_id
        left join builds_checkliststep_covers c on c.from_checkliststep_id = h.step_id
        join builds_checkliststep s on s.id in (h.step_id, c.to_checkliststep_id)
        where held.build_id = the_build and h.by_id = person and h.basis <> 'self_after_night' and held.result = 'pass'
          and case when tg_table_name = 'builds_tick' then s.id = (to_jsonb(new) ->> 'step_id')::bigint
              else s.id = (to_jsonb(new) ->> 'step_id')::bigint
                or (s.operation_key <> '' and s.operation_key = to_jsonb(new) ->> 'operation_key') end
    ) then
        raise exception 'whoever signed the hold point does not work on what it covers'
            using errcode = 'check_violation', constraint = 'builds_holdsignature_four_eyes';
    end if;
    return new;
end $$;

-- Screens that show a build are told of each new design version, once the change is there to be read.
create or replace function baywright_tell_screens() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    perform pg_notify('baywright_build', json_build_object('build', new.number, 'design_version', new.design_version)::text);
    return null;
end $$;
