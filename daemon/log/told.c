/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/log/told.h"

#include <string.h>

#include "daemon/log/log.h"

/* What is told of a kind: what its subject is called, where that is no person, and fields of its body. */
typedef struct {
    const char *kind;
    const char *subject; /* NULL: not told */
    const char *fields[5];
} Telling;

static const Telling TELLINGS[] = {
    {"alert.opened", "alert", {"class"}},
    {"alert.passed", "alert", {"round"}},
    {"alert.repeated", "alert", {NULL}},
    {"alert.taken", "alert", {"via"}},
    {"alert.closed", "alert", {"outcome"}},
    {"message.settled", NULL, {"message", "kind", "channel", "fate", "gateway"}},
    {"reply.received", "reply", {"gateway", "channel"}},
    {"reply.read", "reply", {"state"}},
    {"reply.seen", "reply", {NULL}},
    {"reply.settled", "reply", {NULL}},
    {"session.asked", NULL, {"session"}},
    {"session.closed", NULL, {"session", "as"}},
    {"sender.away", NULL, {"from", "to"}},
    {"sender.taken", "replica", {"epoch"}},
    {"replica.joined", "replica", {NULL}},
    {"clock.jumped", NULL, {"from", "to"}},
    {"clock.bounded", "replica", {NULL}},
    {"programme.put", "programme", {NULL}},
};

static const Telling *telling_of(const char *kind)
{
    for (size_t i = 0; i < G_N_ELEMENTS(TELLINGS); i++)
        if (strcmp(TELLINGS[i].kind, kind) == 0) return &TELLINGS[i];
    return NULL;
}

static const char *text_of(const json_t *body, const char *field)
{
    return json_string_value(json_object_get(body, field));
}

static void add_field(GString *line, const json_t *body, const char *field)
{
    const json_t *value = json_object_get(body, field);

    if (json_is_string(value)) log_pair(line, field, json_string_value(value));
    if (json_is_integer(value))
        g_string_append_printf(line, " %s=%" JSON_INTEGER_FORMAT, field, json_integer_value(value));
}

static void add_line(GString *lines, bool full, const Event *event, const json_t *body)
{
    const Telling *telling = telling_of(event->kind);

    log_pair(lines, "event", event->kind);
    if (telling != NULL && telling->subject != NULL)
        log_pair(lines, telling->subject, event->subject);
    for (size_t i = 0; telling != NULL && i < G_N_ELEMENTS(telling->fields); i++)
        if (telling->fields[i] != NULL) add_field(lines, body, telling->fields[i]);
    if (full) {
        log_pair(lines, "subject", event->subject);
        log_pair(lines, "by", event->author);
        add_field(lines, body, "reason");
        add_field(lines, body, "why");
    }
    g_string_append_c(lines, '\n');
}

static void count(Tally *tally, const Event *event, const json_t *body)
{
    static const char *const CLASSES[] = {"now", "today", "digest"};
    const char *class = text_of(body, "class");
    Fate fate;

    tally->events++;
    if (strcmp(event->kind, "session.asked") == 0) tally->asked++;
    if (strcmp(event->kind, "reply.received") == 0) tally->replies++;
    if (strcmp(event->kind, "message.settled") == 0 && text_of(body, "fate") != NULL &&
        fate_from_name(text_of(body, "fate"), &fate))
        tally->fates[fate]++;
    for (size_t i = 0; i < G_N_ELEMENTS(CLASSES); i++)
        if (strcmp(event->kind, "alert.opened") == 0 && g_strcmp0(class, CLASSES[i]) == 0)
            tally->alerts[i]++;
}

void told_event(Tally *tally, GString *lines, bool full, const Event *event, const json_t *body)
{
    count(tally, event, body);
    if (lines != NULL) add_line(lines, full, event, body);
}

void tally_add(Tally *to, const Tally *from)
{
    to->events += from->events;
    to->replies += from->replies;
    to->asked += from->asked;
    for (int i = 0; i < TALLY_FATES; i++)
        to->fates[i] += from->fates[i];
    for (size_t i = 0; i < G_N_ELEMENTS(to->alerts); i++)
        to->alerts[i] += from->alerts[i];
}
