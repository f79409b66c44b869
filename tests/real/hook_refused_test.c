/* SPDX-License-Identifier: Apache-2.0 */
/* Posts that are not believed, and receipts that mean nothing: shown, counted, and told to a clinician where they may be all that
 * comes; never again and again, for a stranger can post too. And receipts that go by our own id. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define OKAFOR "+442079460190"
#define BODY "{\"id\":\"7\",\"from\":\"" ADA "\",\"text\":\"D 3 P1\"}"

static long post(const Solo *door, const char *token)
{
    g_autofree char *header = g_strconcat("X-Token: ", token, NULL);
    const char *const headers[] = {"Content-Type: application/json", header, NULL};

    return site_post(door->port, "/in/texts", headers, BODY, strlen(BODY));
}

/* A stranger posts, or the gateway with the secret of yesterday. */
static void refused_at(Solo *door, const char *instant)
{
    solo_to(door, instant);
    assert_int_equal(post(door, "of yesterday"), 401);
}

static int open_alerts(const Solo *door)
{
    json_t *list = site_ask(door->site, "alerts");
    int n = look_count(list, "kind", "gateway");

    json_decref(list);
    return n;
}

static bool says(const Solo *door, const char *command, const char *words)
{
    g_autofree char *said = site_told(door->site, "%s", command);

    return strstr(said, words) != NULL;
}

/* A printed status is wrapped: words are looked for in what it is made of. */
static bool notes_say(const Solo *door, const char *words)
{
    json_t *status = site_ask(door->site, "status");
    char *notes = json_dumps(json_object_get(status, "notes"), 0);
    bool found = strstr(notes, words) != NULL;

    free(notes);
    json_decref(status);
    return found;
}

static void a_secret_that_changed_is_told_after_an_hour(void **state)
{
    Solo door = solo_open(SPEAKS_QUERY, "08:30");

    (void)state;
    refused_at(&door, "2026-03-02T09:00:00Z");
    assert_true(notes_say(&door, "Webhooks of the gateway texts are refused"));
    assert_true(says(&door, "metrics", "\nosier_hooks_refused_total{gateway=\"texts\"} 1\n"));
    refused_at(&door, "2026-03-02T09:50:00Z");
    assert_int_equal(open_alerts(&door), 0);
    refused_at(&door, "2026-03-02T10:01:00Z");
    assert_int_equal(open_alerts(&door), 1);
    solo_to(&door, "2026-03-02T10:02:00Z");
    assert_int_equal(stand_in_sent(door.gateway, OKAFOR, "a gateway fails (texts)", NULL), 1);
    assert_int_equal(post(&door, HOOK_KEY), 200);
    assert_int_equal(open_alerts(&door), 0);
    assert_false(notes_say(&door, "are refused"));
    solo_close(&door);
}

static void noise_beside_what_is_accepted_is_no_matter(void **state)
{
    Solo door = solo_open(SPEAKS_QUERY, "08:30");

    (void)state;
    refused_at(&door, "2026-03-02T09:00:00Z");
    solo_to(&door, "2026-03-02T09:30:00Z");
    assert_int_equal(post(&door, HOOK_KEY), 200);
    refused_at(&door, "2026-03-02T10:10:00Z");
    refused_at(&door, "2026-03-02T11:05:00Z");
    assert_int_equal(open_alerts(&door), 0);
    solo_close(&door);
}

/* Whatever a stranger does: one call a day, and none while the last is not closed. */
static void a_strangers_noise_calls_once_a_day_at_most(void **state)
{
    Solo door = solo_open(SPEAKS_QUERY, "08:30");

    (void)state;
    refused_at(&door, "2026-03-02T09:00:00Z");
    refused_at(&door, "2026-03-02T10:30:00Z");
    assert_int_equal(solo_alerts(&door, "gateway", "today"), 1);
    json_t *list = site_ask(door.site, "alerts");
    g_autofree char *id = look_copy(json_array_get(list, 0), "alert");
    json_decref(list);
    json_decref(site_ask(door.site, "alert close %s --outcome resume --by 'R. Okafor'", id));
    for (int hour = 11; hour < 24; hour++) {
        g_autofree char *instant = g_strdup_printf("2026-03-02T%02d:00:00Z", hour);
        refused_at(&door, instant);
    }
    assert_int_equal(solo_alerts(&door, "gateway", "today"), 1);
    /* Nor after a restart. */
    assert_int_equal(site_stop(door.site), 0);
    assert_int_equal(site_start(door.site, "2026-03-03T00:10:00Z"), 0);
    refused_at(&door, "2026-03-03T01:00:00Z");
    refused_at(&door, "2026-03-03T03:00:00Z");
    assert_int_equal(solo_alerts(&door, "gateway", "today"), 1);
    refused_at(&door, "2026-03-04T04:00:00Z");
    assert_int_equal(solo_alerts(&door, "gateway", "today"), 2);
    for (int hour = 5; hour < 24; hour++) {
        g_autofree char *instant = g_strdup_printf("2026-03-04T%02d:00:00Z", hour);
        refused_at(&door, instant);
    }
    refused_at(&door, "2026-03-06T09:00:00Z");
    assert_int_equal(solo_alerts(&door, "gateway", "today"), 2);
    solo_close(&door);
}

/* --- receipts --- */

static const char *const JSON[] = {"Content-Type: application/json", NULL};

static long receipt(const Solo *door, const char *body)
{
    return site_post(door->port, "/receipts", JSON, body, strlen(body));
}

static void a_receipt_that_means_nothing_leaves_a_trace(void **state)
{
    Solo door = solo_open(SPEAKS_JSON, "08:30");

    (void)state;
    assert_int_equal(receipt(&door, "nonsense"), 202);
    assert_int_equal(receipt(&door, "{\"message\":{\"id\":2},\"state\":\"DELIVRD\"}"), 202);
    g_autofree char *said = site_said(door.site);
    assert_non_null(strstr(said, "event=receipt.unreadable gateway=texts"));
    assert_true(says(&door, "metrics", "\nosier_receipts_unreadable_total{gateway=\"texts\"} 2\n"));
    assert_true(notes_say(&door, "Receipts of the gateway texts cannot be read: 2"));
    solo_close(&door);
}

static void fate_is(const Solo *door, const char *kind, const char *fate)
{
    json_t *messages = site_ask(door->site, "messages --client %s", door->ada);

    look_is(look_only(messages, "kind", kind), "fate", fate);
    json_decref(messages);
}

/* The id that the gateway was given with the n-th text. */
static char *receipt_by_ours(const Solo *door, int n, const char *state)
{
    return g_strdup_printf("{\"ref\":{\"id\":\"%s\"},\"state\":\"%s\"}",
                           stand_in_send(door->gateway, n)->id, state);
}

static void a_receipt_by_our_own_id_moves_the_message(void **state)
{
    Solo door = solo_open(SPEAKS_JSON, "08:30");

    (void)state;
    solo_to(&door, "2026-03-02T08:31:00Z");
    fate_is(&door, "reminder", "accepted");
    g_autofree char *body = receipt_by_ours(&door, 1, "DELIVRD");
    assert_int_equal(receipt(&door, body), 200);
    fate_is(&door, "reminder", "delivered");
    /* It is known by the gateway's id all the same. */
    g_autofree char *welcome = receipt_by_ours(&door, 0, "DELIVRD");
    assert_int_equal(receipt(&door, welcome), 200);
    fate_is(&door, "welcome", "delivered");
    assert_int_equal(receipt(&door, "{\"ref\":{\"id\":1},\"state\":\"UNDELIV\"}"), 200);
    fate_is(&door, "welcome", "delivered");
    solo_close(&door);
}

/* An id of ours that was given to another gateway, or to none, moves nothing. */
static void an_id_that_is_no_messages_moves_nothing(void **state)
{
    Solo door = solo_open(SPEAKS_JSON, "08:30");

    (void)state;
    solo_to(&door, "2026-03-02T08:31:00Z");
    assert_int_equal(receipt(&door, "{\"ref\":{\"id\":\"00112233445566778899AABBCCDDEEFF\"},"
                                    "\"state\":\"DELIVRD\"}"),
                     200);
    fate_is(&door, "reminder", "accepted");
    solo_close(&door);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_secret_that_changed_is_told_after_an_hour),
        cmocka_unit_test(noise_beside_what_is_accepted_is_no_matter),
        cmocka_unit_test(a_strangers_noise_calls_once_a_day_at_most),
        cmocka_unit_test(a_receipt_that_means_nothing_leaves_a_trace),
        cmocka_unit_test(a_receipt_by_our_own_id_moves_the_message),
        cmocka_unit_test(an_id_that_is_no_messages_moves_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
