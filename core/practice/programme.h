/* SPDX-License-Identifier: Apache-2.0 */
/* A programme: what a clinician wrote down as an ordered list of stages, read from its file and
 * checked as a whole. Every text is lent by the programme's own tree and lives as long as the
 * programme. Nothing here is changed after reading. */
#ifndef OSIER_CORE_PRACTICE_PROGRAMME_H
#define OSIER_CORE_PRACTICE_PROGRAMME_H

#include "core/clinic/fault.h"

#define PROGRAMME_STAGES_MAX 24
#define STAGE_MOVEMENTS_MAX 12
#define FINDING_NO_FLOOR                                                                           \
    "no-floor" /* cannot get down to the floor and up again alone; known to every programme */
#define COMMON_PRACTICE "common practice"

/* From-to; both the same where the file gives one number. */
typedef struct {
    double from;
    double to;
} Range;

/* How a movement works on a muscle, and so how its dose is told. */
typedef enum {
    WORK_ACTIVE, /* moved by one's own muscles, held for a second or two */
    WORK_STATIC, /* held still */
    WORK_SKILL   /* practised, not stretched: balance, the hip hinge */
} Work;

/* The dose of one movement in one session. */
typedef struct {
    Work work;
    bool each_side; /* one side after the other; else both at once */
    int sets;
    Range repetitions; /* in one set of one side */
    Range hold_s;      /* each repetition */
    Range rest_s;      /* between sets; never counted as dose */
} Dose;

/* A relaxed hold after the repetitions. minutes.to is 0 where there is none. */
typedef struct {
    Range minutes;
    Range intensity; /* 0 to 10 */
} Relaxed;

typedef enum { GEOMETRY_NONE, GEOMETRY_DOOR, GEOMETRY_BALL, GEOMETRY_HEEL } GeometryKind;
typedef enum { PLACE_FLOOR, PLACE_BED, PLACE_CHAIR, PLACE_STANDING } Place;

/* How a movement is done for a given tightness. */
typedef struct {
    const char *key;
    const char *title;
    Place place;
    const char *how;
    const char *caution;
    GPtrArray *not_for; /* of finding keys; NULL where none. No floor rules out every PLACE_FLOOR by
                           itself */
    bool strap;         /* a strap round the foot, held with both hands */
    GeometryKind geometry;
    double margin_deg; /* start at the client's own angle less this */
    Range reach;       /* cm: distance from the frame, height of the ball or of the heel */
    double hip_cm;     /* GEOMETRY_BALL: hip joint above the floor */
} Setup;

typedef struct {
    const char *key;
    const char *title;
    const char *muscle; /* "calf"; movements of one muscle share its dose */
    const char *position;
    const char *getting_in;
    const char *doing;
    const char *getting_out;
    GPtrArray *cues; /* of text */
    const char *feel;
    GPtrArray *avoid;  /* of text */
    GPtrArray *setups; /* of const Setup*, the first is the usual one; empty where it needs none */
    Dose dose;
    Relaxed relaxed;
    bool leg_rests; /* the leg at work lies straight ... */
    /* ... or is carried or lifted straight, as at a leg raise; neither: nothing is said of legs */
    bool leg_raised;
} Movement;

/* When a stage is done. A count of 0 sessions or a NULL measure means: not asked for. */
typedef struct {
    int of_asked;           /* the window: the last so many asked sessions that were answered */
    int done;               /* at least so many of them done; one done partly counts half */
    int told;               /* stretch and pain each told at least so many times in the window */
    double intensity_max;   /* median of the window, 0 to 10 */
    double pain_over_usual; /* highest pain in the window at most so far over the usual */
    const char *measure;    /* key of a measure, or NULL */
    bool goal;              /* the measure must reach the client's own goal */
    double at_least;        /* or this value (less is better: at most) */
    int measure_days;       /* a measure older than this does not count */
    GPtrArray
        *felt_not; /* of letters "A": the latest check-in must be none of these; NULL where none */
} ExitRule;

/* When a stage was too much. */
typedef struct {
    double pain_over_usual; /* pain so far over the usual ... */
    int pain_times;         /* ... so many times ... */
    int pain_of;            /* ... of the last so many asked sessions */
    double strong;          /* intensity of this and over ... */
    int strong_times;
    int strong_of;
    bool loss; /* a loss of range beyond the error of its method */
} BackRule;

typedef struct {
    const char *key;
    const char *title;
    const char *aim;
    GPtrArray *movements; /* of Movement */
    int sessions_a_day;
    int days_a_week;
    GPtrArray *not_for; /* of finding keys; NULL where none */
    ExitRule exit;
    BackRule back;
    const char *next_key; /* NULL: the programme ends here */
    const char *back_key; /* NULL: no easier stage */
} Stage;

/* Something a screen may find, and what follows from it. */
typedef struct {
    const char *key;
    const char *ask;  /* the question of the screen */
    GPtrArray *words; /* the finding is read as this where its text has one of them */
    bool clinician;   /* the clinician chooses the stage; else a caution only */
    const char *because;
} Finding;

/* Where to begin, by leg-raise angle: the first row that fits. */
typedef struct {
    double below_deg; /* INFINITY in the last row */
    GPtrArray *felt;  /* of places; NULL: any */
    const char *stage;
    const char *setup; /* or NULL */
} StartRow;

typedef struct {
    double clinician_deg; /* at or below: the clinician first. -1 where the programme asks for no
                             angle */
    double goal_deg;      /* unless the client has a goal of their own; -1 likewise */
    const char *calf;     /* stage where it is felt in the calf, or NULL */
    const char *first;    /* stage where nothing was measured */
    GPtrArray *rows;      /* of StartRow */
} Start;

/* One way to take a measure. */
typedef struct {
    const char *key;
    const char *title;
    double sem;       /* standard error of one reading, in the measure's unit */
    double sem_sides; /* the same for left beside right, where known apart; else sem */
    bool by_client;   /* measured by the client: supports, never decides */
    const char *landmark;
} Method;

typedef struct {
    const char *key;
    const char *title;
    const char *unit; /* "deg", "cm", "s" or "points" */
    bool less_is_better;
    Range possible;
    /* centimetres are kept and may be shown as about so many degrees; 0: never */
    double shown_deg_per_cm;
    double loss_sign;   /* a loss of so much is a warning sign; 0: none is */
    GPtrArray *methods; /* of Method */
} Measure;

/* One letter of the sheet that the client has at home. */
typedef struct {
    const char *letter; /* "A" to "E" */
    const char *place;  /* "calf", "knee", "thigh", "sit-bone", "electric" */
    const char *text;   /* for the sheet, never in a text message */
    bool clinician;     /* an answer with this letter is for the clinician */
} CheckIn;

typedef struct {
    json_t *tree;
    const char *key;
    const char *title;
    const char *language;
    const char *purpose;
    const char *beside;  /* what the programme does not replace */
    GPtrArray *cautions; /* of text, shown with every movement */
    GPtrArray *stages;   /* of Stage, in the order of the file */
    GPtrArray *setups;   /* of Setup */
    GPtrArray *findings; /* of Finding */
    GPtrArray *measures; /* of Measure */
    GPtrArray *check_in; /* of CheckIn; empty where the programme asks nothing */
    Start start;
    BackRule back;     /* of stages that have none of their own */
    int void_days_off; /* after so many days off the window of readiness is void */
    int review_weeks;
    const char *goodbye; /* with {clinic} and {phone} */
} Programme;

/* Reads a programme from the tree of its file, which it keeps a reference to. Adds every fault
 * found. NULL where there are any. */
Programme *programme_read(json_t *tree, Faults *faults);
void programme_free(Programme *programme);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Programme, programme_free)

/* The stage, set-up, finding, measure of that key, or NULL. Lent by the programme. */
const Stage *programme_stage(const Programme *programme, const char *key);
const Setup *programme_setup(const Programme *programme, const char *key);
const Measure *programme_measure(const Programme *programme, const char *key);
const Method *measure_method(const Measure *measure, const char *key);

/* Stages by place in the file, from 0, fewer than programme_stages. */
int programme_stages(const Programme *programme);
const Stage *programme_stage_at(const Programme *programme, int at);

/* The stage after or before, or NULL: the programme ends there, or there is nothing easier. */
const Stage *stage_next(const Programme *programme, const Stage *stage);
const Stage *stage_back(const Programme *programme, const Stage *stage);

/* The rule that gives a plan the stage's days a week, spread over the week (RFC 5545, static), or NULL for every day: from
 * five days a week on the plan asks daily, and leaves which day is off to the client. */
const char *stage_rule(const Stage *stage);

/* Does the stage stand after the other one in the programme? */
bool stage_is_later(const Programme *programme, const Stage *stage, const Stage *than);

/* "each side, 2 sets of 15 to 20, each held 1 to 2 s, 60 s rest between sets". Caller's to g_free.
 */
char *dose_text(const Dose *dose);

/* The movement as a person reads it, in mail or on paper: how, feel, avoid, dose, and the
 * programme's cautions. setup may be NULL: the usual one. Caller's to g_free. */
char *movement_text(const Programme *programme, const Movement *movement, const Setup *setup);

#endif
