/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/kill_world.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"

#define FIRST_DAY 20514 /* 2 March 2026, in days since 1970 */

void kill_check_replies(KillWorld *world)
{
    long status;
    json_t *replies = site_call(world->site, "GET", "/replies", NULL, &status);
    GHashTableIter texts;
    void *text;

    g_hash_table_iter_init(&texts, world->sent_in);
    while (g_hash_table_iter_next(&texts, &text, NULL))
        if (look_count(replies, "text", text) != 1)
            fail_msg("'%s' is %d times in the ledger", (char *)text,
                     look_count(replies, "text", text));
    assert_int_equal(look_count(replies, "state", "received"), 0);
    json_decref(replies);
}

void kill_check_sessions(KillWorld *world, int *asked)
{
    long status;
    json_t *session;
    size_t j;

    for (int i = 0; i < KILL_CLIENTS; i++) {
        int days = (int)((world->now_ms / 86400000) - FIRST_DAY) - 1; /* yesterday's may be open */
        g_autofree char *path = g_strdup_printf("/clients/%s/sessions?from=2026-03-02&days=%d",
                                                world->clients[i], days);
        json_t *sessions = site_call(world->site, "GET", path, NULL, &status);
        assert_int_equal(json_array_size(sessions), days * 2);
        json_array_foreach(sessions, j, session)
        {
            const char *state = json_string_value(json_object_get(session, "state"));
            if (strcmp(state, "planned") == 0 || strcmp(state, "asked") == 0)
                fail_msg("a session of %s is still %s",
                         json_string_value(json_object_get(session, "local")), state);
            *asked += strcmp(state, "excused") != 0;
        }
        json_decref(sessions);
    }
}

static json_t *message_of(json_t *messages, const char *id)
{
    json_t *message;
    size_t i;

    json_array_foreach(messages, i, message)
    {
        if (g_strcmp0(json_string_value(json_object_get(message, "message")), id) == 0)
            return message;
    }
    return NULL;
}

/* The table in docs/gateways.md: what a gateway that takes keys may hold goes there again, and ends as unsure only where it
 * may not go any more: its end has passed, say. */
static void check_unsure(const KillWorld *world, const json_t *message)
{
    const char *id = json_string_value(json_object_get(message, "message"));
    const char *reason = json_string_value(json_object_get(message, "reason"));

    if (world->speech != SPEAKS_FORM) return;
    if (!g_hash_table_contains(world->being_written, id))
        fail_msg("unsure, though no kill met it: %s", id);
    if (reason == NULL || strstr(reason, "while writing it") != NULL)
        fail_msg("unsure, though the gateway takes keys: %s", id);
}

void kill_check_messages(KillWorld *world)
{
    g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
    g_autoptr(GHashTable) asked = g_hash_table_new(g_str_hash, g_str_equal);
    int repeated = 0, unsure = 0;
    long status;
    json_t *messages = site_call(world->site, "GET", "/messages", NULL, &status);
    json_t *message;
    size_t j;

    for (int i = 0; i < stand_in_count(world->gateway); i++) {
        const StandInSend *send = stand_in_send(world->gateway, i);
        message = message_of(messages, send->id);
        if (message == NULL) fail_msg("the ledger knows nothing of '%s'", send->text);
        if (g_hash_table_add(seen, send->id)) continue;
        repeated++;
        const char *kind = json_string_value(json_object_get(message, "kind"));
        if (!g_hash_table_contains(world->being_written, send->id))
            fail_msg("sent twice, though no kill met it: %s", send->text);
        if (world->speech == SPEAKS_JSON && strcmp(kind, "alert") != 0 &&
            strcmp(kind, "safety") != 0)
            fail_msg("a %s was sent twice by a gateway that takes no key", kind);
    }
    json_array_foreach(messages, j, message)
    {
        const char *fate = json_string_value(json_object_get(message, "fate"));
        const char *id = json_string_value(json_object_get(message, "message"));
        const char *session = json_string_value(json_object_get(message, "session"));
        bool sms = strcmp(json_string_value(json_object_get(message, "channel")), "sms") == 0;
        if (strcmp(fate, "waiting") == 0 || strcmp(fate, "writing") == 0)
            fail_msg("a message still has no fate: %s", id);
        if (sms && strcmp(fate, "accepted") == 0 && !g_hash_table_contains(seen, id))
            fail_msg("accepted, though the gateway never saw it: %s", id);
        if (sms && strcmp(fate, "unsure") == 0) { /* the mail server takes no key */
            unsure++;
            check_unsure(world, message);
        }
        if (strcmp(json_string_value(json_object_get(message, "kind")), "reminder") == 0)
            assert_true(g_hash_table_add(asked, (char *)session));
    }
    print_message("%zu messages, %d being written at a kill, %d tried twice, %d unsure\n",
                  json_array_size(messages), (int)g_hash_table_size(world->being_written), repeated,
                  unsure);
    json_decref(messages);
}
