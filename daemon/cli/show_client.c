/* SPDX-License-Identifier: Apache-2.0 */
/* One client as a person reads it. */
#include <glib.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/show_value.h"

/* The fields said by a line of their own, or not for people. */
static const char *const SAID[] = {"client", "name",  "standing", "screen",    "plan",
                                   "bars",   "stage", "warnings", "programme", "shares"};

static json_t *others(const json_t *client)
{
    json_t *rest = json_copy((json_t *)client);

    for (size_t i = 0; i < G_N_ELEMENTS(SAID); i++)
        json_object_del(rest, SAID[i]);
    return rest;
}

static void print_screen(const json_t *screen, const char *zone)
{
    g_autofree char *at = show_instant_in(show_text(screen, "at"), zone, true);
    size_t i;
    json_t *finding;

    if (!json_is_object(screen)) {
        puts("\nscreen           none yet: a clinician screens first (osier screen --help)");
        return;
    }
    printf("\nscreen           by %s, %s; floor %s; %s\n", show_text(screen, "by"), at,
           json_is_true(json_object_get(screen, "floor")) ? "yes" : "no",
           json_is_true(json_object_get(screen, "clear")) ? "clear" : "findings:");
    json_array_foreach(json_object_get(screen, "findings"), i, finding)
    {
        fputs("                   - ", stdout);
        show_value(finding);
        putchar('\n');
    }
}

/* The time of a bar as a person reads it. */
static void print_bar(const json_t *bar, const char *zone)
{
    json_t *told = json_copy((json_t *)bar);
    g_autofree char *since = show_instant_in(show_text(bar, "since"), zone, true);

    if (show_has(bar, "since")) json_object_set_new(told, "since", json_string(since));
    show_fields(told, 2);
    json_decref(told);
}

static void print_bars(const json_t *bars, const char *zone)
{
    size_t i;
    json_t *bar;

    json_array_foreach((json_t *)bars, i, bar)
    {
        puts("\nnothing is sent, since:");
        print_bar(bar, zone);
    }
}

/* Who has the same phone, and by which letters they are told apart there. */
static void print_shares(const json_t *shares)
{
    size_t i;
    json_t *other;

    if (!json_is_object(shares)) return;
    printf("\nshares the phone as letter %s, with:\n", show_text(shares, "letter"));
    json_array_foreach(json_object_get(shares, "with"), i, other)
    {
        printf("  %s (%s), letter %s\n", show_text(other, "name"), show_text(other, "client"),
               show_text(other, "letter"));
    }
}

void show_client(const json_t *answer)
{
    json_t *rest = others(answer);
    const char *zone = show_text(answer, "zone");

    printf("%s, %s: %s\n\n", show_text(answer, "name"), show_text(answer, "client"),
           show_text(answer, "standing"));
    show_fields(rest, 0);
    json_decref(rest);
    print_shares(json_object_get(answer, "shares"));
    print_bars(json_object_get(answer, "bars"), zone);
    print_screen(json_object_get(answer, "screen"), zone);
    if (json_is_object(json_object_get(answer, "plan"))) {
        fputs("\nplan             ", stdout);
        show_plan(json_object_get(answer, "plan"));
    } else {
        puts("\nplan             none yet (osier plan set --help)");
    }
}
