/* SPDX-License-Identifier: Apache-2.0 */
/* One client as a person reads it. */
#include <glib.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/show_value.h"

/* The fields said by a line of their own, or not for people. */
static const char *const SAID[] = {"client", "name",  "standing", "screen",   "plan",
                                   "bars",   "stage", "warnings", "programme"};

static json_t *others(const json_t *client)
{
    json_t *rest = json_copy((json_t *)client);

    for (size_t i = 0; i < G_N_ELEMENTS(SAID); i++)
        json_object_del(rest, SAID[i]);
    return rest;
}

static void print_screen(const json_t *screen)
{
    g_autofree char *at = show_instant(show_text(screen, "at"));
    size_t i;
    json_t *finding;

    if (!json_is_object(screen)) {
        puts("\nscreen           none yet: a clinician screens first (osier screen --help)");
        return;
    }
    printf("\nscreen           by %s, %s UTC; floor %s; %s\n", show_text(screen, "by"), at,
           json_is_true(json_object_get(screen, "floor")) ? "yes" : "no",
           json_is_true(json_object_get(screen, "clear")) ? "clear" : "findings:");
    json_array_foreach(json_object_get(screen, "findings"), i, finding)
    {
        fputs("                   - ", stdout);
        show_value(finding);
        putchar('\n');
    }
}

static void print_bars(const json_t *bars)
{
    size_t i;
    json_t *bar;

    json_array_foreach((json_t *)bars, i, bar)
    {
        puts("\nnothing is sent, since:");
        show_fields(bar, 2);
    }
}

void show_client(const json_t *answer)
{
    json_t *rest = others(answer);

    printf("%s, %s: %s\n\n", show_text(answer, "name"), show_text(answer, "client"),
           show_text(answer, "standing"));
    show_fields(rest, 0);
    json_decref(rest);
    print_bars(json_object_get(answer, "bars"));
    print_screen(json_object_get(answer, "screen"));
    if (json_is_object(json_object_get(answer, "plan"))) {
        fputs("\nplan             ", stdout);
        show_plan(json_object_get(answer, "plan"));
    } else {
        puts("\nplan             none yet (osier plan set --help)");
    }
}
