/* SPDX-License-Identifier: Apache-2.0 */
/* The clients of a rehearsal: made-up people, and what each of them does when osier writes. All
 * that chance decides is drawn from a seed, person by person. No I/O. */
#ifndef OSIER_DAEMON_REHEARSAL_PEOPLE_H
#define OSIER_DAEMON_REHEARSAL_PEOPLE_H

#include "core/calendar/zone.h"
#include "daemon/random.h"

enum { EPISODES_MAX = 3 };

/* What a text is to those who run the clinic, beside what it reports. */
typedef enum { MEANS_REPORT, MEANS_QUESTION, MEANS_AWAY, MEANS_SIGN, MEANS_STOP } Meaning;

/* What really happened: -1 where it is not told. done: 2 yes, 1 partly, 0 no. */
typedef struct {
    int done;
    int stretch;
    int pain;
} Truth;

/* On that day of the rehearsal (the first is 0) the reminder is answered like this. */
typedef struct {
    int day;
    const char *text; /* NULL: no more episodes */
    Meaning meaning;
    Truth truth;
} Episode;

typedef struct {
    const char *name;
    int born;
    const char *zone; /* NULL: the clinic's */
    const char *language;
    const char *channel;
    const char *phone;
    const char *old_phone; /* the number that was written down first and reaches nobody, or NULL */
    const char *email;
    const char *needs;
    double leg_cm;
    double usual_pain;
    const char *at;      /* the client's own local times */
    const char *felt;    /* where the stretch is felt, or NULL */
    double angle_deg;    /* straight-leg raise; 0: not measured */
    double goal_deg;     /* where the small of the back flattens; 0: the programme's goal */
    int review_day;      /* of the plan, counted from the first; 0: the programme's */
    const char *floor;   /* down to the floor and up again alone: "yes" or "no" */
    const char *finding; /* of the screen, or NULL */

    int answers; /* of a hundred reminders, so many are answered, ... */
    int done;    /* ... and of a hundred answers so many say done, ... */
    int partly;  /* ... partly; the rest say no */
    int stretch; /* usual, one up or down */
    int pain;
    int rises_from;  /* the day from which pain rises by one every other day; 0: never */
    int silent_from; /* the day from which nothing is answered; 0: never ... */
    int silent_to;   /* ... until this day; 0: for good */
    int sore_from;   /* the days on which it hurts as much as sore; 0: never */
    int sore_to;
    int sore;
    int delay_low; /* minutes until an answer */
    int delay_high;
    Episode episodes[EPISODES_MAX];
} Persona;

/* The people, n of them. Static. */
const Persona *people(size_t *n);

/* One of them as the days go by. */
typedef struct {
    const Persona *persona;
    const char *language; /* the persona's, or the clinic's where osier has no texts in it */
    GTimeZone *zone;      /* lent */
    Day from;             /* the first day of the rehearsal */
    int told_day;         /* the day of the rehearsal, from 1, whose episode has been told */
    char letter;          /* on a phone that somebody else uses as well, 0: none was seen yet */
    bool open;            /* a reminder waits for its answer, ... */
    bool meant;           /* ... which is on its way */
    bool eased;           /* a clinician has looked into the pain */
    bool left;            /* has ended the texts */
    double begun_deg;     /* the true leg raise at the beginning, 0: not drawn yet */
    double gain_deg;      /* and what practice has added */
    Truth last;
} Someone;

/* A text that a person will send. Freed with saying_free. */
typedef struct {
    int64_t at_ms;
    char *text;
    Meaning meaning;
    Truth truth;
    Day day; /* the local date that it tells of */
} Saying;

void saying_free(Saying *saying);

/* What a person does about a text of osier's that came at now_ms: key as understand() gives it.
 * NULL: nothing. The caller frees with saying_free. */
Saying *person_hear(Someone *person, Random *random, const char *key, int value, int64_t now_ms);

/* The true leg raise at this time. */
double person_range(Someone *person, Random *random);

/* How a session went, for someone who is rung up. */
Truth person_told(Someone *person, Random *random, int64_t now_ms);

#endif
