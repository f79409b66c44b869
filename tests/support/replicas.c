/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/replicas.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/json_look.h"
#include "tests/support/settings.h"

void replica_settings_at(Site *site, const char *name, const char *listens, const char *clinic)
{
    g_autofree char *listen =
        listens != NULL ? g_strdup_printf(", listen: \"%s\"", listens) : g_strdup("");
    g_autofree char *sections = g_strdup_printf(
        "page: {listen: \"127.0.0.1:%d\"}\nsync: {name: %s%s}\n", site_free_port(), name, listen);
    g_autofree char *yaml = settings_plain(clinic, "", sections);

    site_settings(site, yaml);
}

void replica_settings(Site *site, const char *name, int port, const char *clinic)
{
    g_autofree char *listens = port > 0 ? g_strdup_printf("127.0.0.1:%d", port) : NULL;

    replica_settings_at(site, name, listens, clinic);
}

Site *replica_new(const char *name, int seed, int port)
{
    Site *site = site_new();

    site->seed = seed;
    replica_settings(site, name, port, REPLICAS_CLINIC);
    return site;
}

static char *asked(Site *site, const char *words, const char *field)
{
    json_t *answer = site_ask(site, "%s", words);
    char *text = look_copy(answer, field);

    json_decref(answer);
    return text;
}

char *replica_code(Site *site)
{
    return asked(site, "sync pair", "code");
}

void replica_pair(Site *site, Site *with, int port)
{
    g_autofree char *code = replica_code(with);

    json_decref(site_ask(site, "sync pair %s --with 127.0.0.1:%d", code, port));
}

void replica_visit(Site *site)
{
    json_decref(site_ask(site, "sync now"));
}

char *replica_id(Site *site)
{
    return asked(site, "sync status", "replica");
}

char *replica_client(Site *site, const char *name, int number)
{
    g_autofree char *words = g_strdup_printf(
        "client add --name '%s' --zone Europe/London --language en --channel sms "
        "--phone +4420794600%02d --consent 'sms: signed form, R. Okafor, 2026-03-01'",
        name, number);

    return asked(site, words, "client");
}

void replica_plan(Site *site, const char *client)
{
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", client));
    json_decref(site_ask(site,
                         "plan set %s --programme calf-and-hamstring --at 10:30 --angle-deg 62 "
                         "--felt calf --clinician 'R. Okafor'",
                         client));
}

int replica_count(Site *site, const char *words)
{
    json_t *list = site_ask(site, "%s", words);
    int n = (int)json_array_size(list);

    json_decref(list);
    return n;
}

void replicas_alike(Site *one, Site *other, const char *words)
{
    json_t *here = site_ask(one, "%s", words);
    json_t *there = site_ask(other, "%s", words);

    if (!json_equal(here, there)) {
        char *a = json_dumps(here, JSON_INDENT(1)), *b = json_dumps(there, JSON_INDENT(1));
        g_error("%s differs\none: %s\nother: %s", words, a, b);
    }
    json_decref(here);
    json_decref(there);
}

void replicas_change(Site *one, Site *other, const char *client, int n)
{
    json_decref(site_ask(one, "client set %s --needs 'large print, %d'", client, n));
    json_decref(site_ask(other, "client set %s --born %d", client, 1940 + n % 30));
}

void replicas_know(Site *one, Site *other, const char *client, int n)
{
    g_autofree char *words = g_strdup_printf("client show %s", client);
    g_autofree char *needs = g_strdup_printf("large print, %d", n);

    replicas_alike(one, other, words);
    replicas_alike(one, other, "client list");
    assert_int_equal(replica_count(one, "sync conflicts"), 0);
    json_t *shown = site_ask(other, "%s", words);
    look_is(shown, "needs", needs);
    json_decref(shown);
}

void replicas_end(Site *one, Site *other)
{
    Site *const both[] = {one, other};

    for (int i = 0; i < 2; i++)
        assert_int_equal(site_stop(both[i]), 0);
    for (int i = 0; i < 2; i++) {
        json_decref(site_ask(both[i], "check --rebuild"));
        site_free(both[i]);
    }
}
