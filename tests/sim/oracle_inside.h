/* SPDX-License-Identifier: Apache-2.0 */
/* What the files of the oracle share. */
#ifndef OSIER_TESTS_SIM_ORACLE_INSIDE_H
#define OSIER_TESTS_SIM_ORACLE_INSIDE_H

#include "tests/sim/oracle.h"
#include "tests/sim/phrases.h"
#include "tests/support/ledger_tables.h"

#define MINUTE INT64_C(60000)
#define HOUR (60 * MINUTE)
#define DAY (24 * HOUR)

/* The clinic's settings, as its folder has them. */
#define ENDS (3 * HOUR)
#define NUDGE_AFTER (4 * HOUR)
#define SILENT_AFTER (20 * HOUR)
#define PER_DAY 4
#define MISSED_RUN 3
#define TIMES_MOST 6

/* A full disk holds things up for so long at most. */
#define SLACK (20 * MINUTE)

typedef struct {
    char *client;
    GTimeZone *zone;
    char *start;
    int minute[TIMES_MOST];
    int n;
    int64_t from_ms;
    int64_t to_ms;
} Epoch;

typedef struct {
    char *client;
    int64_t at_ms;
    int64_t seq;
} SomePain;

typedef struct {
    char *from;
    char *text;
} StaffWord;

struct Oracle {
    SimClinic *clinic;
    Trace *trace;
    bool takes_key;
    Model *model;
    LedgerTables *folded;
    GHashTable *asking; /* sessions not yet over */
    GHashTable *alive;  /* alerts not yet closed */
    GPtrArray *fresh;   /* of ModelReply, lent: not yet read */
    GPtrArray *over;    /* of ModelSession, lent: come to an end in this step */
    GPtrArray *settled; /* of ModelMessage, lent: settled in this step */
    GPtrArray *taken;   /* of ModelAlert, lent: taken in this step */
    GPtrArray *some;    /* of SomePain */
    GPtrArray *epochs;  /* of Epoch */
    GHashTable *groups; /* gateway's id -> first id */
    GHashTable *counts; /* first id -> times in the ledger */
    GHashTable *acked;  /* gateway's ids acknowledged, not yet seen in the ledger */
    GHashTable *
        started; /* client -> of each message that osier started: id -> when it was claimed (int64_t) */
    GHashTable *once;    /* "kind session" -> message id; "safety stop" -> message id */
    GHashTable *codes;   /* "number code alert" */
    GHashTable *letters; /* "letter number" -> the client to whom texts with it went */
    GPtrArray *words;    /* of StaffWord */
    GHashTable *warned;  /* replies with a warning sign that want a safety text: id -> client */
    int64_t up_ms;       /* since when the daemon runs, on a clock that nobody set */
    int life;            /* that was looked at last */
    int jumps;           /* of the clock, by then */
    int sent_life;       /* that wrote last */
    bool looking;
};

/* Takes in the events that came since the last time. */
void oracle_load(Oracle *oracle);

/* The rules on what goes out, at rest, and over the days. */
void oracle_judge_sent(Oracle *oracle, const Sent *sent, const Written *written);
void oracle_judge_rest(Oracle *oracle);
/* Before the model takes it in. */
void oracle_judge_event(Oracle *oracle, const Event *event);
void oracle_judge_reply(Oracle *oracle, const ModelReply *reply);

/* The rules on a phone that two share. What a reply says, without the letter of who wrote it: a phrase, or NULL. */
void oracle_judge_letter(Oracle *oracle, const Sent *sent, const Written *written);
void oracle_judge_sharer(Oracle *oracle, const ModelReply *reply, const Phrase *phrase);
const Phrase *oracle_phrase(const ModelReply *reply);

/* The clients with that phone (GPtrArray of ModelClient, lent). */
GPtrArray *oracle_clients_at(const Oracle *oracle, const char *phone);

/* The epoch of a client's plan that gives this date and slot that instant, or NULL. */
const Epoch *oracle_epoch(const Oracle *oracle, const char *client, const char *date, int slot,
                          int64_t utc_ms);

#endif
