/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

Solo solo_open(Speech speech, const char *at)
{
    Solo solo = {
        .site = site_new(), .gateway = stand_in_new(speech_map(speech)), .port = site_free_port()};

    site_use(solo.site, solo.gateway, speech, solo.port);
    assert_int_equal(site_start(solo.site, "2026-03-02T08:05:00Z"), 0);
    solo.ada = site_client(solo.site, ADA, at);
    return solo;
}

void solo_close(Solo *solo)
{
    g_free(solo->ada);
    site_free(solo->site);
    stand_in_free(solo->gateway);
}

void solo_to(Solo *solo, const char *instant)
{
    assert_true(site_clock(solo->site, instant));
}

void solo_says(Solo *solo, const char *text, const char *then)
{
    stand_in_put(solo->gateway, ADA, text, NULL);
    solo_to(solo, then);
}

int solo_heard(Solo *solo, const char *words)
{
    return stand_in_sent(solo->gateway, ADA, words, NULL);
}

int solo_alerts(Solo *solo, const char *kind, const char *class)
{
    json_t *list = site_ask(solo->site, "alerts --all");
    json_t *alert;
    size_t i;
    int n = 0;

    json_array_foreach(list, i, alert)
    {
        n += g_strcmp0(json_string_value(json_object_get(alert, "kind")), kind) == 0 &&
             g_strcmp0(json_string_value(json_object_get(alert, "class")), class) == 0;
    }
    json_decref(list);
    return n;
}
