/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/watch/digest.h"
#include "tests/support/language.h"

static const char *const LANGUAGES[] = {"en", "es", "fr"};

static Day day(const char *text)
{
    Day date;

    assert_true(day_parse(text, &date));
    return date;
}

static void has(const char *text, const char *part)
{
    if (strstr(text, part) == NULL) fail_msg("'%s' is not in:\n%s", part, text);
}

static void lacks(const char *text, const char *part)
{
    if (strstr(text, part) != NULL) fail_msg("'%s' is in:\n%s", part, text);
}

/* A week with one person to call and one who does well. */
static Digest *a_week(void)
{
    Digest *digest = digest_new("Saltmarsh Lane", day("2026-03-02"), day("2026-03-08"));
    DigestCall *call = digest_call(digest, "K7QF2M9T", "Ada N.");
    DigestClient *ada = digest_client(digest, "K7QF2M9T", "Ada N.");
    DigestClient *bert = digest_client(digest, "P3XW8B2C", "Bert O.");

    call->phone = g_strdup("+442079460001");
    call->needs = g_strdup("hard of hearing");
    digest_matter(call->reasons, "pain", "8", day("2026-03-04"), "open");
    ada->stage = g_strdup("Calf at the wall");
    ada->bar = g_strdup("hold");
    ada->counts = (SessionCounts){.done = 18, .not = 4, .silent = 6};
    ada->intensity = 4.25;
    ada->has_intensity_trend = true;
    ada->intensity_trend = TREND_STEADY;
    ada->pain = 8;
    ada->has_pain_trend = true;
    ada->pain_trend = TREND_RISING;
    DigestMatter *matter = digest_matter(ada->alerts, "pain", "8", day("2026-03-04"), "closed");
    matter->by = g_strdup("R. Okafor");
    matter->outcome = g_strdup("step-back");
    bert->counts = (SessionCounts){.done = 7, .partly = 1, .unasked = 2, .excused = 4};
    bert->readiness = g_strdup("move on");
    digest->away_hours = 2.5;
    digest->segments = 212;
    digest->cost = 8.48;
    digest->unread = 3;
    digest->settled = 4;
    digest->missed = 1;
    return digest;
}

static void half_a_tenth_is_rounded_up(void **state)
{
    g_autoptr(Digest) digest = a_week();
    g_autoptr(Pack) pack = language_words("en");

    (void)state;
    digest->away_hours = 2.25;
    g_autofree char *text = digest_text(digest, pack);
    assert_non_null(strstr(text, "Hours not listening: 2.3\n"));
}

static void the_week_reads_in_one_look(void **state)
{
    g_autoptr(Digest) digest = a_week();
    g_autoptr(Pack) pack = language_words("en");
    g_autofree char *text = digest_text(digest, pack);

    (void)state;
    assert_string_equal(text,
                        "Saltmarsh Lane\n"
                        "The week from 2 March 2026 to 8 March 2026\n"
                        "\n"
                        "Practised: 2 of 2 clients\n"
                        "To be called: 1\n"
                        "Ready to move on: 1 (Bert O.)\n"
                        "\n"
                        "PLEASE CALL\n"
                        "  1. Ada N. (K7QF2M9T), +44\u00a020\u00a07946\u00a00001\n"
                        "     pain 8 of 10, 4\u00a0Mar (not taken yet)\n"
                        "     needs: hard of hearing\n"
                        "\n"
                        "THE CLINIC AS A WHOLE\n"
                        "  25 of 42 done, 1 in part, 4 not done, 6 no answer, 2 not asked, 4\n"
                        "    excused\n"
                        "  Replies to settle: 3\n"
                        "  Replies settled: 4, misread by osier: 1\n"
                        "  Hours not listening: 2.5\n"
                        "  Text segments sent: 212\n"
                        "  Cost: 8.48\n"
                        "\n"
                        "EACH CLIENT\n"
                        "  Ada N. (K7QF2M9T): Calf at the wall\n"
                        "    18 of 28 done, 4 not done, 6 no answer\n"
                        "    stretch 4.3, steady; pain up to 8, rising\n"
                        "    on hold until you lift it\n"
                        "    pain 8 of 10, 4\u00a0Mar (closed: one stage back)\n"
                        "  Bert O. (P3XW8B2C)\n"
                        "    7 of 14 done, 1 in part, 2 not asked, 4 excused\n"
                        "    ready to move on; please confirm\n");
}

static void a_week_of_zeros_is_one_without_pain(void **state)
{
    static const char *const WITHOUT[][2] = {
        {"en", "no pain\n"}, {"es", "sin dolor\n"}, {"fr", "aucune douleur\n"}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WITHOUT); i++) {
        g_autoptr(Digest) digest = a_week();
        g_autoptr(Pack) pack = language_words(WITHOUT[i][0]);
        DigestClient *bert = digest->clients->pdata[1];
        g_autofree char *before = digest_text(digest, pack);
        bert->pain = 0;
        bert->has_pain_trend = true;
        bert->pain_trend = TREND_STEADY;
        g_autofree char *text = digest_text(digest, pack);
        lacks(before, WITHOUT[i][1]);
        has(text, WITHOUT[i][1]);
    }
}

static void what_goes_without_saying_is_not_said(void **state)
{
    g_autoptr(Digest) digest = digest_new("Saltmarsh Lane", day("2026-03-02"), day("2026-03-08"));
    g_autoptr(Pack) pack = language_words("en");
    DigestClient *held = digest_client(digest, "H", "Held P.");
    DigestClient *calm = digest_client(digest, "C", "Calm Q.");
    DigestClient *busy = digest_client(digest, "B", "Busy R.");

    (void)state;
    held->bar = g_strdup("hold");
    held->readiness = g_strdup("move on");
    held->counts = (SessionCounts){.excused = 7};
    calm->readiness = g_strdup("stay");
    calm->pain = 0;
    busy->readiness = g_strdup("stay");
    digest_matter(busy->alerts, "missed-run", "3", day("2026-03-04"), "open");
    g_autofree char *text = digest_text(digest, pack);
    has(text, "Ready to move on: 0\n");
    has(text, "  Held P. (H)\n    7 excused\n    on hold until you lift it\n  Calm");
    has(text, "  Calm Q. (C)\n    no sessions\n    no pain\n    stays at this stage\n");
    has(text, "    3 missed days in a row, 4\u00a0Mar (not taken yet)\n");
    assert_true(g_str_has_suffix(text, "(not taken yet)\n"));
}

/* Else the code's digits and the number change places with the name. */
static void a_name_from_right_to_left_is_set_apart(void **state)
{
    const char *name = "\u0634\u064a\u0645\u0627\u0621";
    g_autoptr(Digest) digest = digest_new("Saltmarsh Lane", day("2026-03-02"), day("2026-03-08"));
    g_autoptr(Pack) pack = language_words("en");

    (void)state;
    digest_call(digest, "2EJM8833", name)->phone = g_strdup("+447700900001");
    digest_client(digest, "2EJM8833", name)->readiness = g_strdup("move on");
    g_autofree char *text = digest_text(digest, pack);
    g_autofree char *html = digest_html(digest, pack);
    g_autofree char *apart = g_strconcat("\u2068", name, "\u2069 (2EJM8833)", NULL);
    g_autofree char *ready = g_strconcat("Ready to move on: 1 (\u2068", name, "\u2069)", NULL);
    g_autofree char *shown = g_strconcat("<strong>\u2068", name, "\u2069</strong>", NULL);
    has(text, apart);
    has(text, ready);
    has(html, shown);
    lacks(text, "\u2068Saltmarsh");
}

static void clients_stand_by_name(void **state)
{
    static const char *const NAMES[] = {"ada b.", "Ada C.", "Zoe A."};
    g_autoptr(Digest) digest = digest_new("Saltmarsh Lane", day("2026-03-02"), day("2026-03-08"));

    (void)state;
    for (int i = 2; i >= 0; i--)
        digest_client(digest, "K7QF2M9T", NAMES[i]);
    digest_sort(digest);
    for (int i = 0; i < 3; i++)
        assert_string_equal(((DigestClient *)digest->clients->pdata[i])->name, NAMES[i]);
}

static void a_quiet_week_says_so(void **state)
{
    g_autoptr(Digest) digest = digest_new("Saltmarsh Lane", day("2026-03-02"), day("2026-03-08"));
    g_autoptr(Pack) pack = language_words("en");
    g_autofree char *text = digest_text(digest, pack);
    g_autofree char *html = digest_html(digest, pack);

    (void)state;
    has(text, "Nobody needs a call.");
    has(text, "no sessions");
    lacks(text, "Cost");
    lacks(text, "EACH CLIENT");
    has(html, "Nobody needs a call.");
    lacks(html, "<table");
}

static void a_script_in_a_name_stays_a_name(void **state)
{
    const char *evil = "<script>alert(1)</script> & \"O'Neill\"\r\nBcc: x";
    g_autoptr(Digest) digest = digest_new(evil, day("2026-03-02"), day("2026-03-08"));
    g_autoptr(Pack) pack = language_words("en");
    DigestCall *call = digest_call(digest, evil, evil);
    DigestClient *client = digest_client(digest, evil, evil);

    (void)state;
    call->phone = g_strdup(evil);
    call->needs = g_strdup(evil);
    client->stage = g_strdup(evil);
    client->bar = g_strdup(evil);
    client->readiness = g_strdup(evil);
    DigestMatter *matter = digest_matter(client->alerts, evil, evil, 0, "taken");
    matter->by = g_strdup(evil);
    digest_matter(call->reasons, "pain", evil, 0, "closed")->outcome = g_strdup(evil);
    g_autofree char *html = digest_html(digest, pack);
    lacks(html, "<script");
    lacks(html, "\"O'");
    has(html, "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;O");
    g_autofree char *text = digest_text(digest, pack);
    lacks(text, "\r");
    lacks(text, "\nBcc");
}

static void bytes_that_are_no_text_are_mended(void **state)
{
    g_autoptr(Digest) digest = digest_new("a\xff", day("2026-03-02"), day("2026-03-08"));
    g_autoptr(Pack) pack = language_words("en");

    (void)state;
    digest_client(digest, "K", "b\xc3");
    g_autofree char *html = digest_html(digest, pack);
    g_autofree char *text = digest_text(digest, pack);
    json_t *document = digest_json(digest);
    assert_true(g_utf8_validate(html, -1, NULL));
    assert_true(g_utf8_validate(text, -1, NULL));
    assert_non_null(document);
    json_decref(document);
}

/* Columns of the widest line. */
static int widest(const char *text)
{
    int most = 0, column = 0;

    for (; *text != '\0'; text = g_utf8_next_char(text)) {
        gunichar letter = g_utf8_get_char(text);
        column = letter == '\n' ? 0 : column + (g_unichar_iswide(letter) ? 2 : 1);
        most = MAX(most, column);
    }
    return most;
}

static void a_large_clinic_stays_small_and_narrow(void **state)
{
    g_autoptr(Digest) digest = digest_new("Saltmarsh Lane", day("2026-03-02"), day("2026-03-08"));
    g_autofree char *endless = g_strnfill(200, 'n');

    (void)state;
    for (int i = 0; i < 60; i++) {
        g_autofree char *name =
            g_strdup_printf("%s 日本語の名前 %d", i % 7 ? "Wilhelmina" : endless, i);
        DigestClient *client = digest_client(digest, "K7QF2M9T", name);
        DigestCall *call = digest_call(digest, "K7QF2M9T", name);
        client->stage = g_strdup("Hamstring lying in the door frame, both legs, a little nearer");
        client->counts = (SessionCounts){100, 100, 100, 100, 100, 100};
        client->intensity = 5.5;
        client->readiness = g_strdup("step back");
        for (int j = 0; j < 4; j++) {
            DigestMatter *matter =
                digest_matter(client->alerts, "missed-run", "12", day("2026-03-04"), "taken");
            matter->by = g_strdup("J. Lindqvist-Featherstonehaugh of the second surgery");
            digest_matter(call->reasons, "crisis", NULL, day("2026-03-05"), "open");
        }
    }
    for (size_t l = 0; l < G_N_ELEMENTS(LANGUAGES); l++) {
        g_autoptr(Pack) pack = language_words(LANGUAGES[l]);
        g_autofree char *text = digest_text(digest, pack);
        g_autofree char *html = digest_html(digest, pack);
        assert_true(widest(text) <= 72);
        assert_true(strlen(text) + strlen(html) < 300 * 1000);
        lacks(html, "<img");
        lacks(html, "href");
        lacks(html, "{");
        lacks(text, "{");
    }
}

static void numbers_follow_the_language(void **state)
{
    g_autoptr(Digest) digest = a_week();
    g_autoptr(Pack) pack = language_words("fr");
    g_autofree char *text = digest_text(digest, pack);

    (void)state;
    has(text, "18 sur 28 faites, non faites : 4, 6 sans réponse");
    has(text, "étirement 4,3, stable; douleur jusqu'à 8, en hausse");
    has(text, "Coût : 8,48");
    has(text, "À APPELER");
}

static void the_document_keeps_the_six_apart(void **state)
{
    g_autoptr(Digest) digest = a_week();
    json_t *document = digest_json(digest);
    json_t *clients = json_object_get(document, "clients");
    json_t *ada = json_object_get(json_array_get(clients, 0), "sessions");
    json_t *total = json_object_get(document, "sessions");

    (void)state;
    assert_int_equal(json_integer_value(json_object_get(ada, "silent")), 6);
    assert_int_equal(json_integer_value(json_object_get(ada, "prescribed")), 28);
    assert_int_equal(json_integer_value(json_object_get(total, "unasked")), 2);
    assert_int_equal(json_integer_value(json_object_get(total, "due")), 36);
    assert_string_equal(json_string_value(json_object_get(document, "from")), "2026-03-02");
    assert_true(json_is_null(json_object_get(json_array_get(clients, 1), "pain")));
    json_t *call = json_array_get(json_object_get(document, "calls"), 0);
    json_t *reason = json_array_get(json_object_get(call, "reasons"), 0);
    assert_string_equal(json_string_value(json_object_get(reason, "kind")), "pain");
    assert_string_equal(json_string_value(json_object_get(reason, "state")), "open");
    json_decref(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(half_a_tenth_is_rounded_up),
        cmocka_unit_test(the_week_reads_in_one_look),
        cmocka_unit_test(a_week_of_zeros_is_one_without_pain),
        cmocka_unit_test(what_goes_without_saying_is_not_said),
        cmocka_unit_test(a_name_from_right_to_left_is_set_apart),
        cmocka_unit_test(clients_stand_by_name),
        cmocka_unit_test(a_quiet_week_says_so),
        cmocka_unit_test(a_script_in_a_name_stays_a_name),
        cmocka_unit_test(bytes_that_are_no_text_are_mended),
        cmocka_unit_test(a_large_clinic_stays_small_and_narrow),
        cmocka_unit_test(numbers_follow_the_language),
        cmocka_unit_test(the_document_keeps_the_six_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
