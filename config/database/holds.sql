-- What a hold point's signature is judged by stays as it was: what the hold covers, who worked on what, what a step is.
-- Without these a signature could be had by taking its reasons away for a moment.

-- Whether anyone has worked on a step: ticked it, or clocked time on it or on its operation.
create or replace function baywright_is_worked_on(step bigint) returns boolean
language sql stable set search_path = public, pg_temp as $$
    select exists (select from builds_tick t where t.step_id = step) or exists (
        select from builds_timeentry e join builds_checkliststep s on s.id = step
        where e.build_id = s.build_id
          and (e.step_id = s.id or (s.operation_key <> '' and e.operation_key = s.operation_key))
    )
$$;

-- A hold point goes on covering what was worked on, and is open while it comes to cover more.
create or replace function baywright_guard_covers() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
declare
    hold builds_checkliststep%rowtype;
begin
    if tg_op = 'UPDATE' then
        raise exception 'what a hold point covers is added or taken out, never changed' using errcode = 'check_violation',
            constraint = 'builds_checkliststep_covers_kept';
    end if;
    select * into hold from builds_checkliststep
    where id = case tg_op when 'DELETE' then old.from_checkliststep_id else new.from_checkliststep_id end;
    perform pg_advisory_xact_lock(hashtext('baywright-hands'), hold.build_id::int);
    if tg_op = 'DELETE' then
        if baywright_is_worked_on(old.to_checkliststep_id) then
            raise exception 'a hold point goes on covering a step that was worked on' using errcode = 'check_violation',
                constraint = 'builds_checkliststep_covers_kept';
        end if;
        return old;
    end if;
    if hold.result <> '' then
        raise exception 'a signed hold point stands open before it covers more' using errcode = 'check_violation',
            constraint = 'builds_checkliststep_covers_open';
    end if;
    return new;
end $$;

-- Whose time it is and what it was spent on is never changed: a correction moves its ends.
create or replace function baywright_guard_time_entry() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if tg_op = 'UPDATE' and (old.person_id, old.build_id, old.step_id, old.operation_key, old.event_id)
        is not distinct from (new.person_id, new.build_id, new.step_id, new.operation_key, new.event_id) then
        return new;
    end if;
    raise exception 'a clock entry is corrected in its times; who worked on what stays, and no entry is removed'
        using errcode = 'check_violation', constraint = 'builds_timeentry_who_and_what_stay';
end $$;

-- A step stays what it is; a hold point's result repeats a signature, and each signature once.
create or replace function baywright_guard_step() returns trigger
language plpgsql security definer set search_path = public, pg_temp as $$
declare
    signed bigint;
    used bigint;
begin
    if tg_op = 'UPDATE' and (old.id, old.build_id, old.key, old.operation_key, old.is_hold_point)
        is distinct from (new.id, new.build_id, new.key, new.operation_key, new.is_hold_point) then
        raise exception 'step % stays what it is: its build, key, operation and kind are never changed', old.key
            using errcode = 'check_violation', constraint = 'builds_checkliststep_stays_what_it_is';
    end if;
    if not new.is_hold_point or new.result = '' then
        return new;
    end if;
    if tg_op = 'UPDATE' and (old.result, old.result_by_id, old.result_at)
        is not distinct from (new.result, new.result_by_id, new.result_at) then
        return new;
    end if;
    select count(*) into signed from builds_holdsignature h
    where h.step_id = new.id and h.by_id = new.result_by_id and h.at = new.result_at
      and new.result = case when h.passed then 'pass' else 'defective' end;
    select count(*) into used from builds_historyentry e
    where e.table_name = 'builds_checkliststep' and e.row_id = new.id::text and e.operation = 'update'
      and e.after ->> 'result' = new.result and (e.after ->> 'result_by_id')::bigint = new.result_by_id
      and (e.after ->> 'result_at')::timestamptz = new.result_at
      and (e.before ->> 'result', e.before ->> 'result_by_id', e.before ->> 'result_at')
          is distinct from (e.after ->> 'result', e.after ->> 'result_by_id', e.after ->> 'result_at');
    if used >= signed then
        raise exception 'a hold point has the result that someone signed for, once for each signature'
            using errcode = 'check_violation', constraint = 'builds_checkliststep_hold_is_signed';
    end if;
    return new;
end $$;
