/* SPDX-License-Identifier: Apache-2.0 */
/* Replies: what came, the latest reading, the latest settling by a person, and whether a person has
 * seen it. A settling stands over every reading; what it leaves open is taken from the reading. */
#include "core/ledger/fold_part.h"

static const StampColumns READ = {REPLY_R_WALL, REPLY_R_LOGICAL, REPLY_R_REPLICA, REPLY_R_SEQ};
static const StampColumns SETTLED = {REPLY_S_WALL, REPLY_S_LOGICAL, REPLY_S_REPLICA, REPLY_S_SEQ};

static void join_received(const Fold *fold, Row *reply)
{
    static const struct {
        int column;
        const char *name;
    } FIELDS[] = {
        {REPLY_ARRIVED, "arrived"},
        {REPLY_GATEWAY, "gateway"},
        {REPLY_GATEWAY_ID, "gateway_id"},
        {REPLY_FINGERPRINT, "fingerprint"},
        {REPLY_FROM, "from"},
        {REPLY_CHANNEL, "channel"},
        {REPLY_TEXT, "text"},
        {REPLY_AT, "at"},
        {REPLY_PROBLEM, "problem"},
        {REPLY_ANSWERS, "answers"},
        {REPLY_AUTOMATIC, "automatic"},
    };
    int columns[G_N_ELEMENTS(FIELDS) + 1];
    g_autoptr(Row) came = row_copy(reply);

    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++) {
        fold_set(fold, came, FIELDS[i].column, FIELDS[i].name);
        columns[i] = FIELDS[i].column;
    }
    columns[G_N_ELEMENTS(FIELDS)] = -1;
    fold_join(reply, came, columns, UNIT_LEAST);
}

static void join_read(const Fold *fold, Row *reply)
{
    if (!fold_is_later(fold, reply, READ)) return;
    fold_set_client(fold, reply, REPLY_R_CLIENT, "client");
    fold_set(fold, reply, REPLY_R_SESSION, "session");
    fold_set(fold, reply, REPLY_R_READING, "reading");
    fold_set(fold, reply, REPLY_R_STATE, "state");
    fold_set(fold, reply, REPLY_R_GLANCE, "glance");
    fold_set(fold, reply, REPLY_WHY, "why");
    fold_set_stamp(fold, reply, READ);
}

static void join_settled(const Fold *fold, Row *reply)
{
    if (!fold_is_later(fold, reply, SETTLED)) return;
    fold_set_client(fold, reply, REPLY_S_CLIENT, "client");
    fold_set(fold, reply, REPLY_S_SESSION, "session");
    fold_set(fold, reply, REPLY_S_READING, "reading");
    fold_set(fold, reply, REPLY_SETTLED_BY, "by");
    if (row_is_null(reply, REPLY_SETTLED_BY))
        row_set_text(reply, REPLY_SETTLED_BY, fold->event->author);
    fold_set_stamp(fold, reply, SETTLED);
}

/* Of several who have seen it one is told, the same everywhere. */
static void join_seen(const Fold *fold, Row *reply)
{
    const char *by = fold_text(fold, "by"), *held = row_text(reply, REPLY_SEEN_BY);

    if (by == NULL) by = fold->event->author;
    if (held == NULL || strcmp(by, held) > 0) row_set_text(reply, REPLY_SEEN_BY, by);
}

static void sum_up(Row *reply)
{
    static const int SUM[][3] = {
        {REPLY_CLIENT, REPLY_S_CLIENT, REPLY_R_CLIENT},
        {REPLY_SESSION, REPLY_S_SESSION, REPLY_R_SESSION},
        {REPLY_READING, REPLY_S_READING, REPLY_R_READING},
    };
    bool settled = !row_is_null(reply, REPLY_S_WALL);
    const char *read_as = row_text(reply, REPLY_R_STATE);

    for (size_t i = 0; i < G_N_ELEMENTS(SUM); i++) {
        bool own = settled && !row_is_null(reply, SUM[i][1]);

        row_copy_value(reply, SUM[i][0], reply, own ? SUM[i][1] : SUM[i][2]);
    }
    row_set_text(reply, REPLY_STATE, settled ? "settled" : read_as != NULL ? read_as : "received");
    row_set_int(reply, REPLY_GLANCE,
                !settled && row_is_null(reply, REPLY_SEEN_BY) &&
                    row_int(reply, REPLY_R_GLANCE) != 0);
}

bool fold_reply(const Fold *fold)
{
    static const struct {
        const char *kind;
        void (*join)(const Fold *fold, Row *reply);
    } KINDS[] = {
        {"reply.received", join_received},
        {"reply.read", join_read},
        {"reply.settled", join_settled},
        {"reply.seen", join_seen},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(KINDS); i++) {
        if (strcmp(KINDS[i].kind, fold->event->kind) != 0) continue;
        if (fold->body == NULL) return true;
        g_autoptr(Row) reply = fold_row(fold, TABLE_REPLY, fold->event->subject);
        KINDS[i].join(fold, reply);
        sum_up(reply);
        fold_put(fold, reply);
        return true;
    }
    return false;
}
