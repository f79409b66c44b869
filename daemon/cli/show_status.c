/* SPDX-License-Identifier: Apache-2.0 */
/* How things stand, for whoever sits at the desk: first what to look at, in sentences, then the numbers. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/fill.h"
#include "daemon/cli/show_value.h"

static int number(const json_t *object, const char *field)
{
    return (int)json_integer_value(json_object_get(object, field));
}

static void print_notes(const json_t *notes, bool grave)
{
    size_t i;
    json_t *note;

    json_array_foreach((json_t *)notes, i, note)
    {
        if (json_is_true(json_object_get(note, "grave")) != grave) continue;
        fill_print(show_text(note, "say"), grave ? "  ! " : "  - ", "    ");
        fill_print(show_text(note, "do"), "      ", "      ");
    }
}

/* How one gateway stands, in as few words as the rest of the line. */
static const char *gateway_state(const json_t *answer, const json_t *gateway)
{
    const json_t *program = json_object_get(gateway, "program");
    bool ready = strcmp(show_text(program, "state"), "ready") == 0;

    if (json_is_false(json_object_get(gateway, "sends"))) return "writes to a folder";
    if (json_is_false(json_object_get(answer, "sender"))) return "not used here";
    if (json_is_true(json_object_get(gateway, "up"))) return "works";
    if (program != NULL && !ready) return "its program does not run, and is started again";
    if (program != NULL && json_is_false(json_object_get(program, "well")))
        return "says that it is not well";
    if (strcmp(show_text(gateway, "circuit"), "closed") != 0) return "fails, and is tried again";
    return "cannot be reached: the line is down";
}

static void print_gateways(const json_t *answer, const char *zone)
{
    size_t i;
    json_t *line;

    json_array_foreach(json_object_get(answer, "gateways"), i, line)
    {
        printf("  gateway %s (%s): %s\n", show_text(line, "name"), show_text(line, "kind"),
               gateway_state(answer, line));
    }
    json_array_foreach(json_object_get(answer, "polls"), i, line)
    {
        g_autofree char *last = show_instant_in(show_text(line, "last"), zone, false);
        printf("  replies fetched from %s: last at %s\n", show_text(line, "name"), last);
    }
}

static void print_backup(const json_t *backup, const char *zone)
{
    g_autofree char *at = show_instant_in(show_text(backup, "at"), zone, false);
    g_autofree char *next = show_instant_in(show_text(backup, "next"), zone, false);

    if (!json_is_object(backup)) return;
    if (!json_is_null(json_object_get(backup, "at")))
        printf("  last copy: %s, %s\n", at,
               json_is_null(json_object_get(backup, "problem")) ? show_text(backup, "file")
                                                                : "FAILED");
    printf("  next copy: %s\n", next);
}

void show_status(const json_t *answer)
{
    const json_t *notes = json_object_get(answer, "notes");
    const char *zone = show_text(answer, "zone");

    printf("%s, %s (%s)%s\n\n", show_text(answer, "clinic"), show_text(answer, "local"), zone,
           json_is_true(json_object_get(answer, "made_up_clock")) ? ", a made-up clock" : "");
    if (json_array_size(notes) == 0)
        puts("All is well: osier sends and listens, and nothing waits for a person.");
    else
        puts(strcmp(show_text(answer, "state"), "ill") == 0
                 ? "Something is wrong; look at ! first:"
                 : "osier works. Somebody should look at:");
    print_notes(notes, true);
    print_notes(notes, false);
    printf(
        "\nIn numbers\n  clients: %d; open alerts: %d; replies to settle: %d; to glance at: %d\n",
        number(answer, "clients"), number(answer, "alerts"), number(answer, "unread"),
        number(answer, "glance"));
    g_autofree char *due = show_instant_in(show_text(answer, "next_due"), zone, false);
    printf("  messages that wait to go out: %d; next thing due: %s\n", number(answer, "waiting"),
           due);
    print_gateways(answer, zone);
    print_backup(json_object_get(answer, "backup"), zone);
    printf("  zone database: %s\n", show_text(json_object_get(answer, "zones"), "version"));
}
