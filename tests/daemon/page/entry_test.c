/* SPDX-License-Identifier: Apache-2.0 */
/* Sessions, the slowing down of guesses, rights and the guard: each by itself, with time handed in. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/page/assets.h"
#include "adapters/page/guard.h"
#include "adapters/page/password.h"
#include "daemon/page/account.h"
#include "daemon/page/meter.h"
#include "daemon/page/rights.h"
#include "daemon/page/sessions.h"
#include "daemon/page/throttle.h"

#define MINUTE INT64_C(60000)

static void a_session_ends_when_nobody_does_anything(void **state)
{
    Sessions *sessions = sessions_new(30 * MINUTE, 12 * 60 * MINUTE);
    g_autofree char *cookie = sessions_open(sessions, "r. okafor", "R. Okafor", false, 0);

    (void)state;
    assert_non_null(sessions_find(sessions, cookie, 29 * MINUTE, true));
    /* A page that looks by itself is nobody's doing. */
    assert_non_null(sessions_find(sessions, cookie, 58 * MINUTE, false));
    assert_null(sessions_find(sessions, cookie, 59 * MINUTE, true));
    assert_null(sessions_find(sessions, cookie, 0, true));
    sessions_free(sessions);
}

static void a_session_ends_after_a_day_s_work(void **state)
{
    Sessions *sessions = sessions_new(30 * MINUTE, 12 * 60 * MINUTE);
    g_autofree char *cookie = sessions_open(sessions, "a", "A", true, 0);

    (void)state;
    for (int64_t at = 0; at < 12 * 60; at += 20)
        assert_non_null(sessions_find(sessions, cookie, at * MINUTE, true));
    assert_null(sessions_find(sessions, cookie, 12 * 60 * MINUTE, true));
    sessions_free(sessions);
}

static void a_guessed_or_ended_session_is_none(void **state)
{
    Sessions *sessions = sessions_new(30 * MINUTE, 12 * 60 * MINUTE);
    g_autofree char *one = sessions_open(sessions, "a", "A", false, 0);
    g_autofree char *other = sessions_open(sessions, "b", "B", true, 0);

    (void)state;
    assert_string_not_equal(one, other);
    assert_null(sessions_find(sessions, "", 1, true));
    assert_null(sessions_find(sessions, NULL, 1, true));
    assert_null(sessions_find(sessions, "AAAAAAAAAAAAAAAAAAAAAA", 1, true));
    assert_string_not_equal(sessions_find(sessions, one, 1, true)->token, one);
    sessions_end(sessions, one);
    assert_null(sessions_find(sessions, one, 1, true));
    sessions_end_of(sessions, "b");
    assert_null(sessions_find(sessions, other, 1, true));
    sessions_free(sessions);
}

static void the_eleventh_session_takes_the_oldest_place(void **state)
{
    Sessions *sessions = sessions_new(30 * MINUTE, 12 * 60 * MINUTE);
    g_autofree char *first = sessions_open(sessions, "a", "A", false, 0);
    g_autofree char *second = sessions_open(sessions, "a", "A", false, 1);

    (void)state;
    for (int i = 0; i < 9; i++)
        g_free(sessions_open(sessions, "a", "A", false, 2 + i));
    assert_null(sessions_find(sessions, first, 20, false));
    assert_non_null(sessions_find(sessions, second, 20, false));
    sessions_free(sessions);
}

static void looks_are_noted_once_in_ten_minutes(void **state)
{
    Sessions *sessions = sessions_new(30 * MINUTE, 12 * 60 * MINUTE);
    g_autofree char *cookie = sessions_open(sessions, "a", "A", false, 0);
    PageSession *session = sessions_find(sessions, cookie, 0, true);

    (void)state;
    assert_true(session_notes(session, "/clients/K7", 0));
    assert_false(session_notes(session, "/clients/K7", 9 * MINUTE));
    assert_true(session_notes(session, "/clients/K8", 9 * MINUTE));
    assert_true(session_notes(session, "/clients/K7", 10 * MINUTE));
    sessions_free(sessions);
}

static void guesses_wait_longer_and_longer(void **state)
{
    Throttle *throttle = throttle_new();
    int64_t now = 0;

    (void)state;
    for (int i = 0; i < 3; i++) {
        assert_int_equal(throttle_wait_ms(throttle, "a", now), 0);
        throttle_try(throttle, "a", now);
    }
    assert_int_equal(throttle_wait_ms(throttle, "a", now), 1000);
    assert_int_equal(throttle_wait_ms(throttle, "b", now), 0);
    int64_t before = 0;
    for (int i = 0; i < 20; i++) {
        int64_t wait = throttle_wait_ms(throttle, "a", now);
        assert_true(wait >= before && wait <= 15 * MINUTE);
        before = wait;
        now += wait;
        assert_int_equal(throttle_wait_ms(throttle, "a", now), 0);
        throttle_try(throttle, "a", now);
    }
    assert_int_equal(before, 15 * MINUTE);
    throttle_good(throttle, "a");
    assert_int_equal(throttle_wait_ms(throttle, "a", now), 0);
    throttle_free(throttle);
}

static void very_many_names_do_not_fill_the_memory(void **state)
{
    Throttle *throttle = throttle_new();

    (void)state;
    for (int i = 0; i < 3; i++)
        throttle_try(throttle, "the one", 5000);
    for (int i = 0; i < 3000; i++) {
        g_autofree char *name = g_strdup_printf("n%d", i);
        throttle_try(throttle, name, i);
    }
    assert_true(throttle_wait_ms(throttle, "the one", 5000) > 0);
    throttle_free(throttle);
}

static void some_at_once_and_then_one_each_so_often(void **state)
{
    static const MeterRate rate = {.burst = 3, .each_ms = 1000};
    Meter *meter = meter_new();

    (void)state;
    for (int i = 0; i < 3; i++)
        assert_true(meter_take(meter, "a", &rate, 0));
    assert_false(meter_take(meter, "a", &rate, 0));
    assert_true(meter_take(meter, "b", &rate, 0));
    assert_false(meter_take(meter, "a", &rate, 999));
    assert_true(meter_take(meter, "a", &rate, 1000));
    assert_false(meter_take(meter, "a", &rate, 1500));
    for (int i = 0; i < 3; i++)
        assert_true(meter_take(meter, "a", &rate, 10000)); /* no more at once for having waited */
    assert_false(meter_take(meter, "a", &rate, 10000));
    for (int i = 0; i < 30000; i++) { /* names do not fill the memory */
        g_autofree char *name = g_strdup_printf("n%d", i);
        assert_true(meter_take(meter, name, &rate, 10000));
    }
    meter_free(meter);
}

static void only_its_own_names_are_answered(void **state)
{
    static const char *const GOOD[] = {"127.0.0.1:8750", "localhost:8750", "LOCALHOST:8750",
                                       "[::1]:8750", "page.clinic.example"};
    static const char *const BAD[] = {"",
                                      "127.0.0.1",
                                      "127.0.0.1:8751",
                                      "evil.example",
                                      "evil.example:8750",
                                      "127.0.0.1:8750.evil.example",
                                      "page.clinic.example:8750",
                                      "127.0.0.1:8750 "};
    Guard *guard = guard_new("127.0.0.1:8750", "https://page.clinic.example");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(GOOD); i++)
        assert_true(guard_host(guard, GOOD[i]));
    for (size_t i = 0; i < G_N_ELEMENTS(BAD); i++)
        assert_false(guard_host(guard, BAD[i]));
    assert_false(guard_host(guard, NULL));
    guard_free(guard);
}

static void a_change_comes_from_the_page_itself(void **state)
{
    static const struct {
        const char *origin;
        const char *site;
        bool good;
    } CASES[] = {
        {"http://127.0.0.1:8750", "same-origin", true},
        {"http://localhost:8750", NULL, true},
        {NULL, "same-origin", true},
        {NULL, NULL, false},
        {"null", NULL, false},
        {"http://evil.example", NULL, false},
        {"https://127.0.0.1:8750", NULL, false},
        {"http://127.0.0.1:8750", "same-site", false},
        {"http://127.0.0.1:8750", "cross-site", false},
        {NULL, "none", false},
        {"http://127.0.0.1:9999", NULL, false},
    };
    Guard *guard = guard_new("127.0.0.1:8750", NULL);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++)
        assert_int_equal(guard_origin(guard, CASES[i].origin, CASES[i].site), CASES[i].good);
    guard_free(guard);
}

static void the_cookie_is_for_this_page_alone(void **state)
{
    Guard *plain = guard_new("127.0.0.1:8750", NULL);
    Guard *tls = guard_new("127.0.0.1:8750", "https://page.clinic.example");
    g_autofree char *set = guard_set_cookie(plain, "abc");
    g_autofree char *secure = guard_set_cookie(tls, "abc");
    g_autofree char *away = guard_set_cookie(plain, NULL);
    g_autofree char *read = guard_cookie(plain, "a=b; osier=abc; osierx=no");
    g_autofree char *other = guard_cookie(tls, "osier=abc");
    g_autofree char *none = guard_cookie(plain, NULL);

    (void)state;
    assert_string_equal(set, "Set-Cookie: osier=abc; Path=/; HttpOnly; SameSite=Strict");
    assert_string_equal(secure,
                        "Set-Cookie: __Host-osier=abc; Path=/; HttpOnly; SameSite=Strict; Secure");
    assert_non_null(strstr(away, "Max-Age=0"));
    assert_string_equal(read, "abc");
    assert_null(other);
    assert_null(none);
    guard_free(plain);
    guard_free(tls);
}

static void the_page_calls_what_is_listed_and_no_more(void **state)
{
    bool shows;

    (void)state;
    assert_int_equal(right_of("GET", "/today", &shows), RIGHT_ALL);
    assert_true(shows);
    assert_int_equal(right_of("POST", "/clients/K7/plan", &shows), RIGHT_CLINICIAN);
    assert_int_equal(right_of("POST", "/clients/K7/plan/move", &shows), RIGHT_CLINICIAN);
    assert_int_equal(right_of("POST", "/clients/K7/screen", &shows), RIGHT_CLINICIAN);
    assert_int_equal(right_of("POST", "/clients/K7/erase", &shows), RIGHT_CLINICIAN);
    assert_int_equal(right_of("POST", "/clock", &shows), RIGHT_NONE);
    assert_int_equal(right_of("GET", "/accounts", &shows), RIGHT_NONE);
    assert_int_equal(right_of("POST", "/accounts", &shows), RIGHT_NONE);
    assert_int_equal(right_of("GET", "/looks", &shows), RIGHT_NONE);
    assert_int_equal(right_of("DELETE", "/clients/K7", &shows), RIGHT_NONE);
    assert_int_equal(right_of("GET", "/clients/K7/", &shows), RIGHT_NONE);
    assert_int_equal(right_of("GET", "/clients//K7", &shows), RIGHT_NONE);
}

static void files_are_found_by_name_and_nothing_else_is(void **state)
{
    static const char *const BAD[] = {"/www/../secrets/x.js",
                                      "/www/",
                                      "/www",
                                      "/index.html",
                                      "/www/../../etc/passwd",
                                      "/www/nothing.js",
                                      "//www/page.css",
                                      "/www/page.css/",
                                      ""};
    const char *type = NULL;
    g_autoptr(GBytes) index = asset_find("/", &type);

    (void)state;
    assert_non_null(index);
    assert_string_equal(type, "text/html; charset=utf-8");
    for (size_t i = 0; i < G_N_ELEMENTS(BAD); i++)
        assert_null(asset_find(BAD[i], &type));
}

static void passwords_and_tokens(void **state)
{
    g_autofree char *hash = NULL;
    g_autofree char *one = NULL;
    g_autofree char *other = NULL;

    (void)state;
    password_start();
    hash = password_hash("a good long pass phrase");
    one = token_new();
    other = token_new();
    assert_true(g_str_has_prefix(hash, "$argon2id$v=19$m=65536,t=3,p=1$"));
    assert_true(password_matches(hash, "a good long pass phrase"));
    assert_false(password_matches(hash, "a good long pass phrasE"));
    assert_false(password_matches(NULL, "a good long pass phrase"));
    assert_int_equal(strlen(one), 22);
    assert_false(token_same(one, other));
    assert_true(token_same(one, one));
    assert_false(token_same(NULL, NULL));
    assert_false(token_same("", ""));
}

static void names_are_compared_without_case_and_spaces(void **state)
{
    g_autofree char *one = account_key("  R.  Okafor ");
    g_autofree char *other = account_key("r. okafor");
    g_autofree char *none = account_key(" \t ");

    (void)state;
    assert_string_equal(one, other);
    assert_string_equal(none, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_session_ends_when_nobody_does_anything),
        cmocka_unit_test(a_session_ends_after_a_day_s_work),
        cmocka_unit_test(a_guessed_or_ended_session_is_none),
        cmocka_unit_test(the_eleventh_session_takes_the_oldest_place),
        cmocka_unit_test(looks_are_noted_once_in_ten_minutes),
        cmocka_unit_test(guesses_wait_longer_and_longer),
        cmocka_unit_test(very_many_names_do_not_fill_the_memory),
        cmocka_unit_test(some_at_once_and_then_one_each_so_often),
        cmocka_unit_test(only_its_own_names_are_answered),
        cmocka_unit_test(a_change_comes_from_the_page_itself),
        cmocka_unit_test(the_cookie_is_for_this_page_alone),
        cmocka_unit_test(the_page_calls_what_is_listed_and_no_more),
        cmocka_unit_test(files_are_found_by_name_and_nothing_else_is),
        cmocka_unit_test(passwords_and_tokens),
        cmocka_unit_test(names_are_compared_without_case_and_spaces),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
