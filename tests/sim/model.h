/* SPDX-License-Identifier: Apache-2.0 */
/* What the ledger's events say, by the design's own words: a second, plain reading of them that
 * shares no code with the fold. The clinic's own events and a laptop's, each in the order of their numbers. */
#ifndef OSIER_TESTS_SIM_MODEL_H
#define OSIER_TESTS_SIM_MODEL_H

#include "core/ledger/event.h"

typedef struct {
    char *id;
    char *kind; /* stop, pause, suspend, end, hold */
    char *cause;
    int64_t at_ms;
    int64_t lifted_as; /* number of the event, of all that were taken in; 0: it is in force */
} ModelBar;

typedef struct {
    char *id;
    GTimeZone *zone;
    char *name;
    char *channel;
    char *phone;
    char *email;
    int64_t consent_ms[3]; /* sms, email, phone: when it was recorded; 0: never */
    int usual_pain;        /* 0 where not known */
    GPtrArray *bars;       /* of ModelBar */
} ModelClient;

typedef struct {
    char *id;
    char *client;
    char *date;
    int slot;
    int64_t utc_ms;
    int64_t asked_ms; /* 0: not asked */
    char *message;
    char *done; /* of the latest report: yes, partly, no; or NULL */
    bool excused;
    bool silent;
    bool unasked;
    int64_t told_as; /* number of the last event about it, of all that were taken in */
} ModelSession;

typedef struct {
    char *id;
    char *kind;
    char *client; /* or NULL */
    char *session;
    char *alert;
    char *fate; /* NULL until settled */
    int64_t fate_ms;
    int64_t fate_seq; /* of the event that first told its fate; clocks may go back */

    /* What the gateway saw of it. */
    int writes;
    bool taken;  /* it was told accepted, or may have been taken */
    bool agreed; /* it was accepted, and the answer said so */
    bool crashed;
} ModelMessage;

typedef struct {
    char *id;
    char *client; /* or "clinic" */
    char *kind;
    char *class;
    char *cause;
    char *taken_by;
    char *taken_via;
    int64_t at_ms;
    int64_t passed_ms;
    int passed;
    bool taken;
    bool closed;
    int64_t closed_ms;
    bool accepted; /* a message about it was taken by the gateway */
} ModelAlert;

typedef struct {
    char *id;
    char *gateway_id;
    char *from;
    char *text;
    char *state; /* received, read, unread, command, settled */
    char *client;
    char *session;
    int64_t arrived_ms;
    int64_t read_seq;
    int64_t told_as; /* number of the event that read it, of all that were taken in */
    bool checked;
} ModelReply;

typedef struct {
    GHashTable *clients; /* id -> ModelClient, and so on */
    GHashTable *sessions;
    GHashTable *slots; /* "client date slot" -> ModelSession, lent */
    GHashTable *messages;
    GHashTable *alerts;
    GHashTable *replies;
    GHashTable *received; /* gateway's id -> number of reply.received, as a pointer */
    int64_t seq;          /* the last of the clinic's own events taken in */
    int64_t laptop_seq;   /* and of the laptop's */
    int64_t now_ms; /* what a laptop wrote counts from when it came, not from when it was written */
} Model;

Model *model_new(void);
void model_free(Model *model);

/* Takes in the next event of its replica. */
void model_take(Model *model, const Event *event);

ModelClient *model_client(const Model *model, const char *id);

/* The message of that id, known or new. */
ModelMessage *model_message(Model *model, const char *id);

/* The bar of a kind that is in force and was set before an instant, or NULL. */
const ModelBar *model_bar(const ModelClient *client, const char *kind, int64_t before_ms);

/* What a session came to: the latest report, then excused, silent, unasked, asked, planned; a
 * reminder that failed makes asked and silent unasked. */
const char *model_state(const Model *model, const ModelSession *session);

/* The alert of that client and kind that is not closed, or NULL. */
const ModelAlert *model_open_alert(const Model *model, const char *client, const char *kind);

#endif
