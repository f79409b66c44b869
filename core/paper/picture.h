/* SPDX-License-Identifier: Apache-2.0 */
/* Pictures as values: what is to be drawn, in numbers and in words of the reader's language, with a
 * text alternative that says the same. Whoever draws (adapters/chart) decides nothing. */
#ifndef OSIER_CORE_PAPER_PICTURE_H
#define OSIER_CORE_PAPER_PICTURE_H

#include "core/calendar/date.h"
#include "core/practice/geometry.h"
#include "core/talk/pack.h"
#include "core/watch/adherence.h"

/* A client with neither leg nor stature known is drawn with this leg, and without numbers: that of a
 * stature of 165 cm (an assumption). */
#define LEG_CM_DRAWN 87.0

/* How somebody lies or sits for a movement, to scale. */
typedef struct {
    Place place;   /* floor, bed or chair */
    bool strap;    /* round the foot, held with both hands */
    Lay lay;       /* kind GEOMETRY_NONE: nothing carries the leg; its angle holds all the same */
    bool measured; /* the numbers are the client's own, and are written into the drawing */
    char *angle;   /* "68°", or NULL */
    char *reach;   /* "36 cm", or NULL */
    double stature_cm;
} SetupDrawing;

/* One session that was told of, or one week of them. -1: not told. */
typedef struct {
    double day; /* days from the picture's first */
    double intensity;
    double pain;
} CoursePoint;

typedef struct {
    double day;
    double degrees;
    bool right;
} CourseReading;

/* Seven days, the last of which is the picture's last or seven days before the next. */
typedef struct {
    double day; /* its first */
    SessionCounts counts;
} CourseWeek;

typedef struct {
    int days;          /* as wide as the picture is */
    GArray *points;    /* of CoursePoint, rising */
    GArray *readings;  /* of CourseReading, rising */
    GArray *weeks;     /* of CourseWeek, rising */
    double goal[2];    /* left, right; degrees, -1: none */
    GPtrArray *ticks;  /* of text, one for each tick */
    GArray *tick_days; /* of double */
    char *stretch;     /* headings and keys, in the reader's language */
    char *pain;
    char *range;
    char *left;
    char *right;
    char *goal_word;
    char *sessions;
    char *states[6]; /* done, partly, not, silent, unasked, excused */
} CourseDrawing;

typedef struct {
    char *name;
    char *figure; /* "5 of 7" */
    SessionCounts counts;
} AdherenceRow;

typedef struct {
    GPtrArray *rows; /* of AdherenceRow, which it frees */
    char *states[6];
} AdherenceDrawing;

/* One of the three is set. */
typedef struct {
    char *title;
    char *alt;     /* says the same in words */
    char *caption; /* its numbers in one sentence, or NULL */
    SetupDrawing *setup;
    CourseDrawing *course;
    AdherenceDrawing *adherence;
} Picture;

void picture_free(Picture *picture);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Picture, picture_free)

/* --- how to lie ---------------------------------------------------------------------------------- */

typedef struct {
    const Movement *movement;
    const Setup *setup; /* NULL: the movement needs none */
    double leg_cm;      /* 0: not known */
    double angle_deg;   /* the client's own leg raise; -1: not measured */
} SetupAsk;

/* The drawing for a movement in that set-up: at the client's angle less the set-up's margin, with its
 * numbers, where leg and angle are known and the set-up reaches; else a plain one without numbers.
 * NULL for what is done standing or in a chair with both feet on the floor, for a movement of which the programme does not tell
 * how the leg lies, and where there is no set-up. The distance is rounded to the
 * gentler side. */
Picture *picture_of_setup(const Pack *pack, const SetupAsk *ask);

/* --- the course of a client ---------------------------------------------------------------------- */

typedef struct {
    Day day;
    const char *state; /* of the session */
    double intensity;  /* -1: not told */
    double pain;
    double bare;    /* a number of which nobody knows whether it was the stretch or pain; 0: none */
    bool pain_some; /* pain without a number */
} CourseSession;

typedef struct {
    Day from;
    Day to;                        /* inclusive; at most 1000 days */
    const CourseSession *sessions; /* rising */
    int n_sessions;
    const CourseReading *readings; /* rising, days from `from` */
    int n_readings;
    double goal[2];
} CourseAsk;

/* Up to ten weeks each session is a point; beyond, each week is: the mean of the stretch, the highest
 * pain. */
Picture *picture_of_course(const Pack *pack, const CourseAsk *ask);

/* --- the clinic's clients ------------------------------------------------------------------------ */

/* More clients than this are not drawn. */
#define ADHERENCE_ROWS_MAX 60

typedef struct {
    const char *name;
    SessionCounts counts;
} AdherenceEntry;

/* Of more than ADHERENCE_ROWS_MAX those are drawn who did the smallest share of what they were asked
 * for; else all, in the order given. NULL where there is none. */
Picture *picture_of_adherence(const Pack *pack, const AdherenceEntry *entries, int n);

#endif
