/* SPDX-License-Identifier: Apache-2.0 */
/* Words a message to a client or a clinician by the language pack. Store thread. */
#ifndef OSIER_DAEMON_JOBS_WORDS_H
#define OSIER_DAEMON_JOBS_WORDS_H

#include "core/practice/programme.h"
#include "core/watch/matter.h"
#include "daemon/desk/person.h"

typedef struct {
    char *text;
    char *subject; /* mail; or NULL */
} Worded;

void worded_clear(Worded *worded);

void words_welcome(Job *job, const Person *person, Worded *worded);
/* By mail, and where the client was asked and wants it plain, with the movements and their cautions. */
void words_reminder(Job *job, const Person *person, Worded *worded);
void words_nudge(Job *job, const Person *person, Worded *worded);

/* A text of the pack by its key, with the clinic's name and phones to fill in. by: the way that it goes. To a phone that several
 * clients share, what is for one of them begins with that one's letter; so it is with whatever is worded here. */
void words_key(Job *job, const Person *person, Channel by, const char *key, Worded *worded);

/* The same with a {value}. */
void words_value(Job *job, const Person *person, Channel by, const char *key, double value,
                 Worded *worded);
/* The same with {intensity} and {pain}. */
void words_rates(Job *job, const Person *person, Channel by, const char *key, double intensity,
                 double pain, Worded *worded);

/* The plan moved from a stage to another, onwards or back. Where the days a week follow the stage and are others now, the text says
 * how many. */
void words_moved(Job *job, const Person *person, const Stage *from, const Stage *to, bool onwards,
                 Worded *worded);

/* What to do about a sign or about pain. It concerns whoever reads it, and bears no letter; one that asks back says how to answer
 * with the letter where it is surely that client's. */
typedef struct {
    const char *kind; /* the alert's as it is named (matter_named) */
    AlertClass class;
    bool late; /* it was sent hours before it was read */
    double
        bare; /* the number that may be stretch or pain, which the text asks back; elsewhere it does not count */
    bool anyones; /* several may have written what it answers */
    Channel by;   /* the way that it goes */
} SafetyCase;
void words_safety(Job *job, const Person *person, const SafetyCase *about, Worded *worded);

/* The alert as a text to a clinician: initials, codes and the kind; no name, no diagnosis. taking:
 * the one-time code. */
void words_alert(Job *job, const Person *person, const Row *alert, const char *taking, bool again,
                 Worded *worded);

/* The same as a mail, which no code answers. */
void words_alert_mail(Job *job, const Person *person, const Row *alert, Worded *worded);

/* alert-taken, alert-more, or alert-taken-elsewhere with who has it. */
void words_alert_answer(Job *job, const Person *person, const Row *alert, const char *key,
                        const char *by, Worded *worded);

/* To a clinician whose code fits no alert of theirs. */
void words_take_refused(Job *job, Worded *worded);

#endif
