/* SPDX-License-Identifier: Apache-2.0 */
/* A client as a job sees it: settings, addresses with consent, bars in force, the plan. Store
 * thread. */
#ifndef OSIER_DAEMON_DESK_PERSON_H
#define OSIER_DAEMON_DESK_PERSON_H

#include "core/calendar/sessions.h"
#include "core/practice/dose.h"
#include "core/wire/message.h"
#include "daemon/desk/desk.h"

typedef struct Person {
    int refs;
    char *id;
    char *name;
    char *zone;
    char *language;
    Channel channel;
    char *address[2];  /* by channel: sms, email; or NULL */
    bool consent[3];   /* by channel */
    double usual_pain; /* -1: not known */
    char *needs;       /* or NULL */
    int born;          /* year, 0: not known */
    bool plain;        /* mail may say what the movements are, body parts and all */
    bool calendar;     /* wants the sessions as a calendar file with the first mail */
    double leg_cm;     /* 0: not known */
    double stature_cm;
    GPtrArray *bars; /* of Row: those in force */
    bool stopped;
    bool paused;
    bool held;
    bool suspended;
    bool ended;
    bool returned; /* was erased, came back, and said so anew */

    char *programme; /* key; NULL: no plan */
    char *programme_hash;
    char *stage;
    char *rule;         /* NULL: every day */
    bool days_by_stage; /* no rule was set for this client: the days follow the stage */
    char *side;
    char *clinician; /* the treating clinician, or NULL */
    char *review;
    SessionTimes times; /* rule is lent from above; n_times 0: no plan */
    DoseChange dose;    /* what is set otherwise for this client */
    char *set_up;       /* the set-up chosen for this client, or NULL */
    double goal[2];     /* left, right; degrees, -1: the programme's */
    double angle_deg;   /* the leg raise that the plan was set with; -1: none */

    char felt;          /* the latest letter of the weekly question, 0: none yet */
    int64_t felt_at_ms; /* when it was told */
    char *felt_message; /* the check-in that it answered */

    int64_t checkin_asked_ms; /* when the weekly question was last asked; 0: never */
    char *checkin_message;    /* and by which message */
    /* the last day of practice before the long break that was asked about, or NULL */
    char *away_since;
} Person;

/* By any id of the client; NULL where there is no such client. The same may be lent to several, so nobody changes one. */
Person *person_load(Job *job, const char *client);
Person *person_ref(Person *person);
/* The client after what the job has written. Where the store has gone away meanwhile (tx_is_lost), as before. */
Person *person_again(Job *job, const Person *before);
void person_free(Person *person); /* once for each of these */
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Person, person_free)

GTimeZone *person_zone(Job *job, const Person *person);

/* "A.N." of "Ada N.": for clinicians' texts (g_free). And "Ada", for the client's own (g_free). */
char *person_initials(const Person *person);
char *person_first_name(const Person *person);

/* The ids of the bars of a kind in force, as a JSON array for the event that lifts them (new
 * reference). NULL: all but holds and ends. */
json_t *person_bars(const Person *person, const char *kind);

/* Is a plan running: programme and times set, not ended? */
bool person_has_plan(const Person *person);

#endif
