/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/ledger_file.h"

#include <string.h>

#include "adapters/store/store_sqlite.h"

/* Only a new store takes it; this one has its own. */
static const char NO_REPLICA[] = "0000000000000000";

char *ledger_reply_key(const char *from, const char *text, int64_t at_ms)
{
    return g_strdup_printf("%s\n%" G_GINT64_FORMAT "\n%s", from, at_ms / 1000, text);
}

char *ledger_mail_key(const char *id)
{
    return g_strdup_printf("mail\n%s", id);
}

static void note_reply(LedgerFile *ledger, const char *body)
{
    json_t *reply = body != NULL ? json_loads(body, 0, NULL) : NULL;
    const char *from = json_string_value(json_object_get(reply, "from"));
    const char *text = json_string_value(json_object_get(reply, "text"));
    json_int_t at_ms = json_integer_value(json_object_get(reply, "at"));

    const char *channel = json_string_value(json_object_get(reply, "channel"));
    const char *id = json_string_value(json_object_get(reply, "gateway_id"));

    if (g_strcmp0(channel, "email") == 0 && id != NULL) {
        g_autofree char *stem = g_strndup(id, strcspn(id, "@"));
        g_hash_table_add(ledger->replies, ledger_mail_key(stem));
    } else if (from != NULL && text != NULL)
        g_hash_table_add(ledger->replies, ledger_reply_key(from, text, at_ms));
    json_decref(reply);
}

static bool add_event(const Event *event, void *context)
{
    LedgerFile *ledger = context;
    json_t *document = event_json(event);
    char *line = json_dumps(document, JSON_COMPACT | JSON_REAL_PRECISION(15));

    g_string_append_printf(ledger->lines, "%s\n", line);
    free(line);
    json_decref(document);
    ledger->reports += strcmp(event->kind, "report.made") == 0;
    ledger->measures += strcmp(event->kind, "measure.taken") == 0;
    ledger->moves += strcmp(event->kind, "plan.move") == 0;
    if (strcmp(event->kind, "reply.received") == 0) note_reply(ledger, event->body);
    return true;
}

static bool read_job(Tx *tx, void *context)
{
    tx_events(tx, "1 = 1", add_event, context, "");
    return true;
}

static void read_done(StoreStatus status, void *context)
{
    (void)status;
    (void)context;
}

bool ledger_file_read(LedgerFile *ledger, uv_loop_t *loop, const char *store, int64_t now_ms,
                      char **why)
{
    Store *opened = NULL;

    *ledger = (LedgerFile){.lines = g_string_new(NULL),
                           .replies = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
    if (store_sqlite_open(loop, store, STORE_REHEARSAL, NO_REPLICA, now_ms, &opened, why) !=
        OPEN_OK)
        return false;
    store_submit(opened, now_ms, read_job, read_done, ledger);
    while (opened->pending(opened) > 0)
        uv_run(loop, UV_RUN_ONCE);
    opened->close(opened);
    return true;
}

void ledger_file_clear(LedgerFile *ledger)
{
    if (ledger->lines != NULL) g_string_free(ledger->lines, TRUE);
    g_clear_pointer(&ledger->replies, g_hash_table_unref);
}
