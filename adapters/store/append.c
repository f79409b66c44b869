/* SPDX-License-Identifier: Apache-2.0 */
/* Events: appending to this replica's chain, and reading. */
#include <sodium.h>

#include "adapters/store/engine.h"
#include "adapters/store/sql.h"
#include "core/ledger/body.h"
#include "core/ledger/chain.h"

const char ENGINE_EVENT_COLUMNS[] =
    "replica, seq, wall, logical, kind, subject, author, base, salt, body, body_hash, digest";

/* A salt hides a blanked body from guessing, so it must be unguessable; a rehearsal wants the same
 * file each time. */
static void draw_salt(Tx *tx, Event *event)
{
    if (tx->rehearsal) {
        g_autofree char *seed =
            g_strdup_printf("salt %s %" G_GINT64_FORMAT, event->replica, event->seq);
        uint8_t hash[crypto_hash_sha256_BYTES];

        crypto_hash_sha256(hash, (const unsigned char *)seed, strlen(seed));
        memcpy(event->salt, hash, SALT_BYTES);
        return;
    }
    if (tx->salts_left == 0) {
        randombytes_buf(tx->salts, sizeof tx->salts);
        tx->salts_left = sizeof tx->salts;
    }
    tx->salts_left -= SALT_BYTES;
    memcpy(event->salt, tx->salts + tx->salts_left, SALT_BYTES);
}

void engine_insert_event(Tx *tx, const Event *event)
{
    tx->moves++;
    if (tx->append == NULL)
        tx->append =
            engine_prepare(tx, "INSERT INTO event VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12)");
    if (tx->append == NULL) return;
    statement_bind_text(tx->append, 1, event->replica);
    statement_bind_int(tx->append, 2, event->seq);
    statement_bind_int(tx->append, 3, event->wall);
    statement_bind_int(tx->append, 4, event->logical);
    statement_bind_text(tx->append, 5, event->kind);
    statement_bind_text(tx->append, 6, event->subject);
    statement_bind_text(tx->append, 7, event->author);
    statement_bind_text(tx->append, 8, event->base);
    statement_bind_bytes(tx->append, 9, event->salt, SALT_BYTES);
    statement_bind_text(tx->append, 10, event->body);
    statement_bind_bytes(tx->append, 11, event->body_hash, DIGEST_BYTES);
    statement_bind_bytes(tx->append, 12, event->digest, DIGEST_BYTES);
    engine_quiet(tx, tx->append);
    tx->append->calls->reset(tx->append);
}

/* jansson holds a text with NUL inside; SQLite and PostgreSQL do not agree on one, so callers clean
 * it out before. */
static bool has_nul(const json_t *value)
{
    const char *key;
    json_t *item;
    size_t i;

    if (json_is_string(value)) return strlen(json_string_value(value)) != json_string_length(value);
    json_array_foreach(value, i, item)
    {
        if (has_nul(item)) return true;
    }
    json_object_foreach((json_t *)value, key, item)
    {
        if (has_nul(item)) return true;
    }
    return false;
}

const char *tx_append(Tx *tx, const char *kind, const char *subject, const char *author,
                      const char *base, json_t *body)
{
    g_assert(kind != NULL && subject != NULL && author != NULL && json_is_object(body));
    g_autofree char *text = body_text(body);
    g_assert(strstr(text, "\\u0000") == NULL || !has_nul(body));

    Head *head = &tx->head;
    Stamp stamp = stamp_next(&head->clock, tx->now);
    Event event = {.replica = tx->replica,
                   .seq = head->seq + 1,
                   .wall = stamp.wall,
                   .logical = stamp.logical,
                   .kind = (char *)kind,
                   .subject = (char *)subject,
                   .author = (char *)author,
                   .base = (char *)base,
                   .body = text};
    draw_salt(tx, &event);
    chain_seal(&event, head->seq > 0 ? head->digest : NULL);
    head->seq = event.seq;
    memcpy(head->digest, event.digest, DIGEST_BYTES);
    engine_keep_event(tx, &event, body);
    json_decref(body);
    char *id = event_id(&event);
    g_ptr_array_add(tx->ids, id);
    return id;
}

static char *lent_text(Statement *statement, int column)
{
    return (char *)statement_text(statement, column);
}

/* A hash of a wrong length reads as zeros and so fails its check. */
static void read_bytes(Statement *statement, int column, uint8_t *bytes, int length)
{
    if (!statement_copy_bytes(statement, column, bytes, length)) memset(bytes, 0, (size_t)length);
}

void engine_read_event(Statement *statement, Event *event)
{
    event->replica = lent_text(statement, 0);
    event->seq = statement_int(statement, 1);
    event->wall = statement_int(statement, 2);
    event->logical = statement_int(statement, 3);
    event->kind = lent_text(statement, 4);
    event->subject = lent_text(statement, 5);
    event->author = lent_text(statement, 6);
    event->base = lent_text(statement, 7);
    read_bytes(statement, 8, event->salt, SALT_BYTES);
    event->body = lent_text(statement, 9);
    event->tree = NULL;
    read_bytes(statement, 10, event->body_hash, DIGEST_BYTES);
    read_bytes(statement, 11, event->digest, DIGEST_BYTES);
}

bool engine_is_whole(const Event *event)
{
    return event->replica != NULL && event->kind != NULL && event->subject != NULL &&
           event->author != NULL;
}

static bool has_order(const char *where)
{
    g_autofree char *small = g_ascii_strdown(where, -1);

    return strstr(small, "order by") != NULL || strstr(small, "limit") != NULL;
}

void tx_events(Tx *tx, const char *where, TxEvent *each, void *context, const char *types, ...)
{
    g_autofree char *tail = sql_tail(where);
    g_autofree char *sql =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event", tail,
                    has_order(where) ? "" : " ORDER BY wall, logical, replica, seq", NULL);
    bool own;
    Statement *statement = engine_borrow(tx, sql, &own);
    va_list arguments;
    Event event;

    if (statement == NULL) return;
    va_start(arguments, types);
    engine_bind_arguments(statement, 1, types, arguments);
    va_end(arguments);
    while (engine_step(tx, statement)) {
        engine_read_event(statement, &event);
        if (!each(&event, context)) break;
    }
    engine_give_back(statement, own);
}
