/* SPDX-License-Identifier: Apache-2.0 */
/* Dose arithmetic: seconds under stretch a session, minutes a week, for each muscle and each side,
 * as planned and as reported done. Static holds stand beside published guidance, which speaks of
 * nothing else; active repetitions are told in their own terms. Rest is not dose. */
#ifndef OSIER_CORE_PRACTICE_DOSE_H
#define OSIER_CORE_PRACTICE_DOSE_H

#include "core/practice/programme.h"

#define DOSE_MUSCLES_MAX 12

/* Garber CE et al. (ACSM position stand), Med Sci Sports Exerc 2011;43(7):1334-1359: 60 s in all
 * for each exercise, on at least 2 days a week. */
#define ACSM_SESSION_DAY_S 60.0
#define ACSM_DAYS 2
/* Thomas E et al., Int J Sports Med 2018;39:243-254: static stretching for at least 5 minutes a
 * week, on at least 5 days. */
#define THOMAS_WEEK_S 300.0
#define THOMAS_DAYS 5

/* What a plan sets otherwise than its programme. 0 (or to 0) leaves it as it is. */
typedef struct {
    int sets;
    Range repetitions;
    Range hold_s;
    int sessions_a_day;
    int days_a_week;
} DoseChange;

/* One muscle, one side. */
typedef struct {
    const char *muscle;
    Range repetitions; /* active */
    Range active_s;    /* held actively */
    Range static_s;    /* held still, relaxed holds included */
} MuscleDose;

typedef enum { GUIDANCE_NONE, GUIDANCE_BELOW, GUIDANCE_MEETS } Guidance;

typedef struct {
    MuscleDose dose; /* of the week */
    double days;     /* days of the week with a session */
    Guidance acsm;
    /* GUIDANCE_NONE where nothing is held still; meets only where the lower end does */
    Guidance thomas;
} MuscleWeek;

/* Seconds under stretch of one movement in one session, one side: sets x repetitions x seconds
 * held. 0 for a skill. The relaxed hold is not in it. Rest is not dose. */
Range dose_seconds(const Dose *dose);

/* The dose with a plan's changes. changed (may be NULL): whether there were any, so that texts can
 * say so. */
Dose dose_changed(const Dose *dose, const DoseChange *change, bool *changed);

/* movement_text (see programme.h) with a plan's changes, which it says are set for this client, and one dose lower
 * where a long break wants it. Caller's to g_free. */
char *movement_text_for(const Programme *programme, const Movement *movement, const Setup *setup,
                        const DoseChange *change, bool lower);

/* One dose lower, after two weeks off: one set fewer, or of a single set half the repetitions
 * (common practice). */
Dose dose_lower(const Dose *dose);

/* A session of the stage, by muscle: movements of one muscle add up. change may be NULL. The number
 * filled, at most DOSE_MUSCLES_MAX; muscles beyond that cannot be, for a stage has no more
 * movements. */
int stage_dose(const Stage *stage, const DoseChange *change, MuscleDose out[DOSE_MUSCLES_MAX]);

/* n sessions of it. */
MuscleDose dose_times(const MuscleDose *dose, double n);
MuscleDose dose_sum(const MuscleDose *a, const MuscleDose *b);

/* The week as planned: sessions a day on so many days. */
int stage_week_planned(const Stage *stage, const DoseChange *change,
                       MuscleWeek out[DOSE_MUSCLES_MAX]);

/* The week as reported: done sessions count whole; partly done ones count nothing at the lower end
 * and whole at the upper, since nobody said how much. days: with a session done or partly done. */
int stage_week_done(const Stage *stage, const DoseChange *change, int done, int partly, int days,
                    MuscleWeek out[DOSE_MUSCLES_MAX]);

/* [{"muscle", "repetitions": [from, to], "active_s", "static_s", "static_min", "days", "acsm_2011",
 * "thomas_2018"}, ...] for one side; the last two "below", "meets" or null. New reference. */
json_t *week_json(const MuscleWeek *weeks, int n);

#endif
