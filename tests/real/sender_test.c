/* SPDX-License-Identifier: Apache-2.0 */
/* Which replica sends, as a clinic with one replica sees it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/json_look.h"
#include "tests/support/settings.h"
#include "tests/support/site.h"

static Site *site_plain(void)
{
    Site *site = site_new();
    g_autofree char *settings = settings_plain("Withy Lane", "", "");

    site_settings(site, settings);
    return site;
}

static int epoch_of(Site *site, const char *words)
{
    json_t *answer = site_ask(site, "%s", words);
    int epoch = (int)json_integer_value(json_object_get(answer, "epoch"));

    assert_true(json_is_true(json_object_get(answer, "here")));
    assert_true(json_is_null(json_object_get(answer, "why")));
    json_decref(answer);
    return epoch;
}

static void the_only_replica_sends_and_says_so(void **state)
{
    Site *site = site_plain();

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    assert_int_equal(epoch_of(site, "sender show"), 0);
    json_t *status = site_ask(site, "sync status");
    assert_true(json_is_true(json_object_get(json_object_get(status, "sender"), "here")));
    assert_int_equal(json_array_size(json_object_get(status, "peers")), 0);
    json_decref(status);
    site_free(site);
}

static void taking_the_duty_twice_is_one_epoch(void **state)
{
    Site *site = site_plain();

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    site_fails(site, 64, "by", "sender take");
    assert_int_equal(epoch_of(site, "sender take --by 'R. Okafor'"), 1);
    assert_int_equal(epoch_of(site, "sender take --by 'R. Okafor'"), 1);
    site_stop(site);
    assert_int_equal(site_start(site, "2026-03-02T10:00:00Z"), 0);
    assert_int_equal(epoch_of(site, "sender show"), 1);
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_only_replica_sends_and_says_so),
        cmocka_unit_test(taking_the_duty_twice_is_one_epoch),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
