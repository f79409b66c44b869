/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/dose.h"

G_STATIC_ASSERT(DOSE_MUSCLES_MAX >= STAGE_MOVEMENTS_MAX);

static Range range_times(Range range, double n)
{
    return (Range){range.from * n, range.to * n};
}

static Range range_sum(Range a, Range b)
{
    return (Range){a.from + b.from, a.to + b.to};
}

static Range all_repetitions(const Dose *dose)
{
    return range_times(dose->repetitions, dose->sets);
}

Range dose_seconds(const Dose *dose)
{
    Range repetitions = all_repetitions(dose);

    if (dose->work == WORK_SKILL) return (Range){0, 0};
    return (Range){repetitions.from * dose->hold_s.from, repetitions.to * dose->hold_s.to};
}

Dose dose_changed(const Dose *dose, const DoseChange *change, bool *changed)
{
    Dose out = *dose;

    if (change != NULL && change->sets > 0) out.sets = change->sets;
    if (change != NULL && change->repetitions.to > 0) out.repetitions = change->repetitions;
    if (change != NULL && change->hold_s.to > 0) out.hold_s = change->hold_s;
    if (changed != NULL)
        *changed = out.sets != dose->sets || out.repetitions.from != dose->repetitions.from ||
                   out.repetitions.to != dose->repetitions.to ||
                   out.hold_s.from != dose->hold_s.from || out.hold_s.to != dose->hold_s.to;
    return out;
}

Dose dose_lower(const Dose *dose)
{
    Dose out = *dose;

    if (out.sets > 1) {
        out.sets--;
        return out;
    }
    out.repetitions.from = MAX(1, ceil(out.repetitions.from / 2));
    out.repetitions.to = MAX(out.repetitions.from, ceil(out.repetitions.to / 2));
    return out;
}

static MuscleDose movement_dose(const Movement *movement, const DoseChange *change)
{
    Dose dose = dose_changed(&movement->dose, change, NULL);
    MuscleDose out = {.muscle = movement->muscle};

    if (dose.work == WORK_ACTIVE) {
        out.repetitions = all_repetitions(&dose);
        out.active_s = dose_seconds(&dose);
    }
    if (dose.work == WORK_STATIC) out.static_s = dose_seconds(&dose);
    out.static_s = range_sum(out.static_s, range_times(movement->relaxed.minutes, 60));
    return out;
}

MuscleDose dose_sum(const MuscleDose *a, const MuscleDose *b)
{
    return (MuscleDose){.muscle = a->muscle,
                        .repetitions = range_sum(a->repetitions, b->repetitions),
                        .active_s = range_sum(a->active_s, b->active_s),
                        .static_s = range_sum(a->static_s, b->static_s)};
}

MuscleDose dose_times(const MuscleDose *dose, double n)
{
    return (MuscleDose){.muscle = dose->muscle,
                        .repetitions = range_times(dose->repetitions, n),
                        .active_s = range_times(dose->active_s, n),
                        .static_s = range_times(dose->static_s, n)};
}

/* Skills stretch no muscle and have no line of their own. */
int stage_dose(const Stage *stage, const DoseChange *change, MuscleDose out[DOSE_MUSCLES_MAX])
{
    int n = 0;

    for (guint i = 0; i < stage->movements->len; i++) {
        const Movement *movement = g_ptr_array_index(stage->movements, i);
        MuscleDose dose = movement_dose(movement, change);
        int at = 0;
        if (dose.repetitions.to <= 0 && dose.static_s.to <= 0) continue;
        while (at < n && strcmp(out[at].muscle, dose.muscle) != 0)
            at++;
        if (at == n)
            out[n++] = dose;
        else
            out[at] = dose_sum(&out[at], &dose);
    }
    return n;
}

/* day_s: held still on a day of practice, at least; week_s: in the week, at least. */
static void set_guidance(MuscleWeek *week, double day_s)
{
    if (week->dose.static_s.to <= 0) return;
    bool acsm = day_s >= ACSM_SESSION_DAY_S && week->days >= ACSM_DAYS;
    bool thomas = week->dose.static_s.from >= THOMAS_WEEK_S && week->days >= THOMAS_DAYS;
    week->acsm = acsm ? GUIDANCE_MEETS : GUIDANCE_BELOW;
    week->thomas = thomas ? GUIDANCE_MEETS : GUIDANCE_BELOW;
}

int stage_week_planned(const Stage *stage, const DoseChange *change,
                       MuscleWeek out[DOSE_MUSCLES_MAX])
{
    MuscleDose session[DOSE_MUSCLES_MAX];
    int n = stage_dose(stage, change, session);
    int a_day = change != NULL && change->sessions_a_day > 0 ? change->sessions_a_day
                                                             : stage->sessions_a_day;
    int days = change != NULL && change->days_a_week > 0 ? change->days_a_week : stage->days_a_week;

    for (int i = 0; i < n; i++) {
        out[i] = (MuscleWeek){.dose = dose_times(&session[i], a_day * days), .days = days};
        set_guidance(&out[i], session[i].static_s.from * a_day);
    }
    return n;
}

int stage_week_done(const Stage *stage, const DoseChange *change, int done, int partly, int days,
                    MuscleWeek out[DOSE_MUSCLES_MAX])
{
    MuscleDose session[DOSE_MUSCLES_MAX];
    int n = stage_dose(stage, change, session);

    for (int i = 0; i < n; i++) {
        MuscleDose low = dose_times(&session[i], done),
                   high = dose_times(&session[i], done + partly);
        out[i] = (MuscleWeek){.days = days};
        out[i].dose = (MuscleDose){.muscle = session[i].muscle,
                                   .repetitions = {low.repetitions.from, high.repetitions.to},
                                   .active_s = {low.active_s.from, high.active_s.to},
                                   .static_s = {low.static_s.from, high.static_s.to}};
        set_guidance(&out[i], days > 0 ? out[i].dose.static_s.from / days : 0);
    }
    return n;
}

static json_t *range_json(Range range)
{
    return json_pack("[f, f]", range.from, range.to);
}

static json_t *guidance_json(Guidance guidance)
{
    return guidance == GUIDANCE_NONE ? json_null()
                                     : json_string(guidance == GUIDANCE_MEETS ? "meets" : "below");
}

json_t *week_json(const MuscleWeek *weeks, int n)
{
    json_t *out = json_array();

    for (int i = 0; i < n; i++) {
        const MuscleDose *dose = &weeks[i].dose;
        json_t *item = json_object();
        json_object_set_new(item, "muscle", json_string(dose->muscle));
        json_object_set_new(item, "repetitions", range_json(dose->repetitions));
        json_object_set_new(item, "active_s", range_json(dose->active_s));
        json_object_set_new(item, "static_s", range_json(dose->static_s));
        json_object_set_new(item, "static_min", range_json(range_times(dose->static_s, 1.0 / 60)));
        json_object_set_new(item, "days", json_real(weeks[i].days));
        json_object_set_new(item, "acsm_2011", guidance_json(weeks[i].acsm));
        json_object_set_new(item, "thomas_2018", guidance_json(weeks[i].thomas));
        json_array_append_new(out, item);
    }
    return out;
}
