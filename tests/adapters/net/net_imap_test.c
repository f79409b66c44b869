/* SPDX-License-Identifier: Apache-2.0 */
/* IMAP through the real carrier: a mailbox that is searched and read. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/carrier_world.h"

static const char letter[] = "From: client@client.example\r\n\r\n8 done\r\n";

enum { MANY = 20000, FIRST_OF_MANY = 4294900000 - MANY };

/* So many messages, of the longest numbers that there are, in one line. */
static void append_many(GString *answer)
{
    g_string_append(answer, "* SEARCH");
    for (int i = 0; i < MANY; i++)
        g_string_append_printf(answer, " %u", (guint)FIRST_OF_MANY + (guint)i);
    g_string_append(answer, "\r\n");
}

static void imap_line(CarrierWorld *world, ScriptPeer *peer, const char *line)
{
    g_string_append_printf(world->dialogue, "%s\n", line);
    g_autofree char *tag = g_strndup(line, strcspn(line, " "));
    const char *command = line + strlen(tag) + 1;
    g_autoptr(GString) answer = g_string_new(NULL);
    if (g_str_has_prefix(command, "CAPABILITY"))
        g_string_append(answer, "* CAPABILITY IMAP4rev1\r\n");
    if (g_str_has_prefix(command, "SELECT"))
        g_string_append(answer, "* 2 EXISTS\r\n* OK [UIDVALIDITY 7] ok\r\n");
    if (g_str_has_prefix(command, "UID SEARCH") && !world->rude)
        g_string_append(answer, "* SEARCH 4 9\r\n");
    if (g_str_has_prefix(command, "UID SEARCH") && world->rude) append_many(answer);
    if (g_str_has_prefix(command, "UID FETCH 9"))
        g_string_append_printf(answer, "* 2 FETCH (UID 9 BODY[] {%zu}\r\n%s)\r\n", strlen(letter),
                               letter);
    bool refused = world->refuse != NULL && g_str_has_prefix(command, world->refuse);
    if (refused && world->reply == NULL) {
        script_hang_up(peer);
        return;
    }
    g_string_append_printf(answer, "%s %s\r\n", tag, refused ? world->reply : "OK done");
    script_say_text(peer, answer->str);
}

static void imap(ScriptPeer *peer, GString *heard, void *context)
{
    int *greeted = script_state(peer);
    if (*greeted == 0) script_say_text(peer, "* OK ready\r\n");
    *greeted = 1;
    for (char *line; (line = script_take_line(heard)) != NULL; g_free(line))
        imap_line(context, peer, line);
}

static WireRequest *mailbox(const CarrierWorld *world, const char *rest, const char *command)
{
    WireRequest *request = carrier_request(world, EXCHANGE_IMAP, "imap", rest);
    request->user = g_strdup("sessions");
    request->password = g_strdup("not a secret");
    request->method = g_strdup(command);
    request->repeatable = true;
    return request;
}

static void assert_answer(const WireResponse *response, const char *expected)
{
    assert_int_equal(response->phase, PHASE_ANSWERED);
    assert_int_equal(response->status, 0);
    assert_int_equal(g_bytes_get_size(response->body), strlen(expected));
    if (*expected)
        assert_memory_equal(g_bytes_get_data(response->body, NULL), expected, strlen(expected));
}

static void mailbox_is_searched_and_read(void **state)
{
    CarrierWorld *world = *state;
    assert_answer(carrier_exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*")),
                  "* SEARCH 4 9\r\n");
    assert_answer(carrier_exchange(world, mailbox(world, "/INBOX;UID=9", NULL)), letter);
}

static void letter_is_no_longer_there(void **state)
{
    CarrierWorld *world = *state;
    const WireResponse *response = carrier_exchange(world, mailbox(world, "/INBOX;UID=5", NULL));
    assert_answer(response, "");
    assert_true(g_str_has_suffix(response->head, " OK done\r\n"));
}

static void server_says_what_the_mailbox_is(void **state)
{
    CarrierWorld *world = *state;
    const WireResponse *response =
        carrier_exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*"));
    assert_non_null(strstr(response->head, "[UIDVALIDITY 7]"));
    response = carrier_exchange(world, mailbox(world, "/INBOX;UIDVALIDITY=7/;UID=9", NULL));
    assert_answer(response, letter);
    response = carrier_exchange(world, mailbox(world, "/INBOX;UIDVALIDITY=8/;UID=9", NULL));
    assert_answer(response, "");
    const char *asked = strstr(world->dialogue->str, "UID FETCH");
    assert_non_null(asked);
    assert_null(strstr(asked + 1, "UID FETCH"));
}

static void server_refuses_one_letter(void **state)
{
    CarrierWorld *world = *state;
    world->refuse = "UID FETCH 5";
    world->reply = "NO [SERVERBUG] not now";
    const WireResponse *response = carrier_exchange(world, mailbox(world, "/INBOX;UID=5", NULL));
    assert_answer(response, "");
    assert_non_null(strstr(response->head, " NO [SERVERBUG]"));
}

static void server_goes_in_the_middle_of_a_letter(void **state)
{
    CarrierWorld *world = *state;
    world->refuse = "UID FETCH 9";
    const WireResponse *response = carrier_exchange(world, mailbox(world, "/INBOX;UID=9", NULL));
    assert_int_not_equal(response->phase, PHASE_ANSWERED);
    assert_false(response->too_large);
}

static void search_of_twenty_thousand_comes_whole(void **state)
{
    CarrierWorld *world = *state;
    world->rude = true;
    g_autoptr(GString) whole = g_string_new(NULL);
    append_many(whole);
    assert_answer(carrier_exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*")),
                  whole->str);
}

static void letter_too_large_leaves_its_beginning(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = mailbox(world, "/INBOX;UID=9", NULL);
    request->answer_max = 20;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_true(response->too_large);
    assert_int_equal(g_bytes_get_size(response->body), 20);
    assert_memory_equal(g_bytes_get_data(response->body, NULL), letter, 20);
}

static int with_imap(void **state)
{
    return carrier_world_new(state, imap);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(mailbox_is_searched_and_read, with_imap, carrier_world_end),
        cmocka_unit_test_setup_teardown(letter_is_no_longer_there, with_imap, carrier_world_end),
        cmocka_unit_test_setup_teardown(server_says_what_the_mailbox_is, with_imap,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(server_refuses_one_letter, with_imap, carrier_world_end),
        cmocka_unit_test_setup_teardown(server_goes_in_the_middle_of_a_letter, with_imap,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(search_of_twenty_thousand_comes_whole, with_imap,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(letter_too_large_leaves_its_beginning, with_imap,
                                        carrier_world_end),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
