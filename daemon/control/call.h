/* SPDX-License-Identifier: Apache-2.0 */
/* One call of the JSON API: what was asked, and the ways to answer. Each runs as one job on the
 * store thread. */
#ifndef OSIER_DAEMON_CONTROL_CALL_H
#define OSIER_DAEMON_CONTROL_CALL_H

#include "daemon/desk/person.h"
#include "daemon/paint/drawing.h"

typedef struct {
    char *id[2];      /* the path's {id} parts, as written, or NULL */
    json_t *body;     /* the request's object, query fields included; never NULL */
    json_t *answer;   /* what is answered; NULL until answered */
    int status;       /* HTTP status */
    Drawing *drawing; /* what is drawn and answered instead of a document, or NULL */
    char *about;      /* the client that it turned out to be about (g_free), or NULL */
    bool page;        /* it came from the clinic's page, and "by" in the body is who is logged in */
    bool desk;        /* and that is the desk: no clinical decisions */
    json_t *faults;   /* NULL, or an array: each failure is added to it, and nothing is answered */
} Call;

/* Answers take the document or drawing over; a drawing is drawn off the loop and answered as a file, that of a digest as a
 * document. call_fail answers {"error": {"what", "value", "why", "exit"}}: exit is the code that the command line ends with
 * (sysexits.h); the HTTP status follows from it: 64, 65 -> 400, 66 -> 404, 75 -> 503, 77 -> 403, 78 -> 409, else 500. call_fail
 * always gives false, so that a handler can end with it; false undoes what it wrote. Where call->faults is set, call_fail only
 * adds {"what", "value", "why"} to it. */
bool call_ok(Call *call, json_t *document);
bool call_draw(Call *call, Drawing *drawing);
bool call_fail(Call *call, int exit_code, const char *what, const char *value, const char *why, ...)
    G_GNUC_PRINTF(5, 6);

/* What was there a moment ago is not found: the store has gone away (tx_is_lost), which is answered, with 503, when the job has ended.
 * False. */
bool call_lost(const Job *job);

/* Fields of the body. call_text: NULL where absent or empty; NULs were refused before. call_need:
 * the same, but answers 64 and gives NULL where absent. */
const char *call_text(const Call *call, const char *field);
const char *call_need(Call *call, const char *field, const char *hint);

/* Is a text of the call at most so many characters, without control characters but for line breaks?
 * False after answering 65. */
bool call_words(Call *call, const char *field, const char *text, long most);

/* Who does it: the field by, needed, one line of at most 80 characters. NULL after answering. */
const char *call_by(Call *call, const char *hint);

/* Who it is written down under: the field by, else "command". */
const char *call_author(const Call *call);

/* False after answering 77 where the desk asks for what a clinician decides. */
bool call_clinician(Call *call, const char *what);

/* A number within bounds. False after answering where it is none; *there says whether it was given.
 */
bool call_number(Call *call, const char *field, double low, double high, double *value,
                 bool *there);

/* Answers that the programme has no stage of that key, and which it has; false. */
bool call_no_stage(Call *call, const Programme *programme, const char *key);

/* A local date "2026-03-02". False after answering where it is none; *there says whether it was
 * given. */
bool call_day(Call *call, const char *field, Day *day, bool *there);

/* The one row that the prefix in id[0] names (case does not matter); answers 66 and gives NULL
 * where there is none or several. what is "client", "alert" ... */
char *call_id(Job *job, Call *call, TableId table, const char *what, const char *prefix);

/* The client that id[0] names, loaded; NULL after answering 66. */
Person *call_person(Job *job, Call *call);

/* Instants and absent values as JSON. */
json_t *json_instant(int64_t ms);
json_t *json_local(Job *job, int64_t ms); /* "2026-03-29T08:00" on the clinic's clock */
json_t *json_text_or_null(const char *text);
json_t *json_parsed(const char *text); /* a JSON text of the store, or null */

/* The name of a client, or null where client is NULL or names none. */
json_t *json_name_of(Job *job, const char *client);

/* A handler: true keeps what it wrote. */
typedef bool CallHandler(Job *job, Call *call);

typedef struct {
    const char *method;
    const char *path; /* "/clients/{id}/plan" */
    CallHandler *handler;
} Endpoint;

/* The endpoint for a method and path, with the {id} parts put into ids (g_free). NULL and *known_path
 * where the path is known but not with that method. */
const Endpoint *endpoint_find(const char *method, const char *path, char *ids[2], bool *known_path);

#endif
