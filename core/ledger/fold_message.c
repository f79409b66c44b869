/* SPDX-License-Identifier: Apache-2.0 */
/* Messages and their fates. A receipt may overtake what it is a receipt of, and comes with less: so
 * what was sent, how it was sent and what became of it are three units, each with its own rule. */
#include "core/ledger/fold_part.h"

static const StampColumns FATE = {MESSAGE_WALL, MESSAGE_LOGICAL, MESSAGE_REPLICA, MESSAGE_SEQ};

/* What the gateway reported at the end outranks what was known before. */
static int fate_rank(const char *fate)
{
    if (fate == NULL) return 0;
    return strcmp(fate, "delivered") == 0 || strcmp(fate, "failed") == 0 ? 2 : 1;
}

static void join_content(const Fold *fold, Row *message)
{
    static const int CONTENT[] = {
        MESSAGE_AT,      MESSAGE_TO,      MESSAGE_CHANNEL,   MESSAGE_KIND,   MESSAGE_TEXT,
        MESSAGE_SUBJECT, MESSAGE_SESSION, MESSAGE_FOR_ALERT, MESSAGE_CLIENT, -1};
    g_autoptr(Row) told = row_new(TABLE_MESSAGE);
    const char *client = fold->event->subject;

    row_set_text(told, MESSAGE_CLIENT, strcmp(client, "clinic") != 0 ? client : NULL);
    fold_set(fold, told, MESSAGE_AT, "at");
    fold_set(fold, told, MESSAGE_TO, "to");
    fold_set(fold, told, MESSAGE_CHANNEL, "channel");
    fold_set(fold, told, MESSAGE_KIND, "kind");
    fold_set(fold, told, MESSAGE_TEXT, "text");
    fold_set(fold, told, MESSAGE_SUBJECT, "subject");
    fold_set(fold, told, MESSAGE_SESSION, "session");
    fold_set(fold, told, MESSAGE_FOR_ALERT, "alert");
    fold_join(message, told, CONTENT, UNIT_LEAST);
}

static void join_sending(const Fold *fold, Row *message)
{
    static const int SENDING[] = {MESSAGE_GATEWAY, MESSAGE_GATEWAY_ID, MESSAGE_SEGMENTS,
                                  MESSAGE_PRICE, -1};
    g_autoptr(Row) told = row_new(TABLE_MESSAGE);

    fold_set(fold, told, MESSAGE_GATEWAY, "gateway");
    fold_set(fold, told, MESSAGE_GATEWAY_ID, "gateway_id");
    fold_set(fold, told, MESSAGE_SEGMENTS, "segments");
    fold_set(fold, told, MESSAGE_PRICE, "price");
    fold_join(message, told, SENDING, UNIT_GREATEST);
}

static void join_fate(const Fold *fold, Row *message, const char *fate)
{
    int held = fate_rank(row_text(message, MESSAGE_FATE)), told = fate_rank(fate);

    if (told < held || (told == held && !fold_is_later(fold, message, FATE))) return;
    row_set_text(message, MESSAGE_FATE, fate);
    fold_set(fold, message, MESSAGE_FATE_AT, "fate_at");
    fold_set(fold, message, MESSAGE_REASON, "reason");
    fold_set_stamp(fold, message, FATE);
}

/* A session is told only of the message that it is known to have been asked by. */
static void tell_session(const Fold *fold, const Row *message, const char *id)
{
    if (id == NULL) return;
    g_autoptr(Row) session = fold_row(fold, TABLE_SESSION, id);
    const char *asked_by = row_text(session, SESSION_MESSAGE);
    if (asked_by == NULL || strcmp(asked_by, row_text(message, MESSAGE_ID)) != 0) return;
    fold_session_failure(session, message);
    fold_put(fold, session);
}

bool fold_message(const Fold *fold)
{
    if (strcmp(fold->event->kind, "message.settled") != 0) return false;
    const char *id = fold_text(fold, "message"), *fate = fold_text(fold, "fate");
    if (id == NULL || fate == NULL) return true;
    g_autoptr(Row) message = fold_row(fold, TABLE_MESSAGE, id);
    g_autofree char *session_before = g_strdup(row_text(message, MESSAGE_SESSION));
    bool failed_before = fold_is_failed_reminder(message);
    join_content(fold, message);
    join_sending(fold, message);
    join_fate(fold, message, fate);
    fold_put(fold, message);
    /* A session was told of failure alone: as it was asked, and since. */
    if (!failed_before && !fold_is_failed_reminder(message)) return true;
    tell_session(fold, message, row_text(message, MESSAGE_SESSION));
    if (g_strcmp0(session_before, row_text(message, MESSAGE_SESSION)) != 0)
        tell_session(fold, message, session_before);
    return true;
}
