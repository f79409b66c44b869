/* SPDX-License-Identifier: Apache-2.0 */
/* Twelve weeks of a small clinic by the real programs: clients move through the stages for reasons that are in the ledger,
 * confirmed by a clinician, and nobody over an open alert. The ledger is read here by the words of its events alone. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>
#include <glib.h>
#include <jansson.h>
#include <sys/wait.h>

#include "tests/support/folder.h"

#define SEED "5"

typedef struct {
    GHashTable *open;    /* alert -> its client, of those not closed */
    GHashTable *kinds;   /* alert -> its kind */
    GHashTable *reached; /* stages that somebody came to */
    int on;
    int back;
    int by_alert; /* steps back with an alert's outcome */
    int sides;    /* leg raises read by goniometer */
    int goodbyes;
    int finished; /* reviews closed with the end */
} Course;

static const char *text_of(const json_t *object, const char *field)
{
    const char *text = json_string_value(json_object_get(object, field));

    return text != NULL ? text : "";
}

static double value_of(const json_t *ready, const char *rule)
{
    size_t i;
    json_t *reason;

    json_array_foreach(json_object_get(ready, "reasons"), i, reason)
    {
        if (strcmp(text_of(reason, "rule"), rule) == 0)
            return json_number_value(json_object_get(reason, "value"));
    }
    fail_msg("no reason %s", rule);
    return -1;
}

static bool has_open(const Course *course, const char *client)
{
    GHashTableIter iter;
    gpointer alert, of;

    g_hash_table_iter_init(&iter, course->open);
    while (g_hash_table_iter_next(&iter, &alert, &of))
        if (strcmp(of, client) == 0) return true;
    return false;
}

/* A move on stands on its own reasons: nothing open, then or by the ledger; enough practice, no pain over the usual. */
static void move_on(Course *course, const char *client, const json_t *body)
{
    const json_t *ready = json_object_get(body, "readiness");

    if (has_open(course, client)) fail_msg("%s moved on over an open alert", client);
    assert_string_equal(text_of(ready, "verdict"), "move on");
    assert_string_equal(text_of(ready, "to"), text_of(body, "stage"));
    assert_true(value_of(ready, "open alerts") == 0);
    assert_true(value_of(ready, "holds") == 0);
    assert_true(value_of(ready, "days without practice") < 14);
    assert_true(value_of(ready, "highest pain over the usual") <= 1);
    assert_true(value_of(ready, "stretch, the median") <= 5);
    if (strcmp(text_of(ready, "stage"), "lower-hamstring") == 0) {
        assert_true(value_of(ready, "measure, left side") >= 70);
        assert_true(value_of(ready, "measure, right side") >= 70);
    }
    g_hash_table_add(course->reached, g_strdup(text_of(body, "stage")));
    course->on++;
}

static void move(Course *course, const char *client, const json_t *body)
{
    const json_t *ready = json_object_get(body, "readiness");

    /* A made-up clinician of the demo clinic's duty list, never osier. */
    assert_true(strlen(text_of(body, "by")) > 0);
    assert_string_not_equal(text_of(body, "by"), "osier");
    if (ready == NULL)
        course->by_alert++;
    else if (strcmp(text_of(ready, "verdict"), "step back") == 0)
        course->back++;
    else
        move_on(course, client, body);
}

static void close_alert(Course *course, const char *alert, const json_t *body)
{
    const char *kind = g_hash_table_lookup(course->kinds, alert);

    course->finished +=
        g_strcmp0(kind, "review") == 0 && strcmp(text_of(body, "outcome"), "end") == 0;
    g_hash_table_remove(course->open, alert);
}

static void take(Course *course, const json_t *event)
{
    const char *kind = text_of(event, "kind");
    const char *subject = text_of(event, "subject");
    const json_t *given = json_object_get(event, "body");
    json_t *body = json_is_string(given) ? json_loads(json_string_value(given), 0, NULL)
                                         : json_deep_copy(given);

    if (strcmp(kind, "alert.opened") == 0) {
        g_hash_table_insert(course->open, g_strdup(subject), g_strdup(text_of(body, "client")));
        g_hash_table_insert(course->kinds, g_strdup(subject), g_strdup(text_of(body, "kind")));
    } else if (strcmp(kind, "alert.closed") == 0) {
        close_alert(course, subject, body);
    } else if (strcmp(kind, "plan.move") == 0) {
        move(course, subject, body);
    } else if (strcmp(kind, "measure.taken") == 0) {
        course->sides += strcmp(text_of(body, "method"), "goniometer") == 0;
    }
    json_decref(body);
}

/* "build/osier" of "build/tests/real/rehearse_weeks_test". */
static char *osier(void)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *folder = g_path_get_dirname(self);

    return g_build_filename(folder, "..", "..", "osier", NULL);
}

/* The demo's clinic, which asks its gateways for texts and mail every half an hour only: twelve weeks in seconds. */
static char *clinic(const char *root)
{
    g_autofree char *demo = NULL;

    if (!g_file_get_contents("config/demo/clinic.yaml", &demo, NULL, NULL))
        fail_msg("no config/demo/clinic.yaml");
    g_autoptr(GString) yaml = g_string_new(demo);
    assert_int_equal(g_string_replace(yaml, "every: 5min", "every: 30min", 0), 2);
    folder_room(root, "clinic");
    folder_write(root, "clinic/clinic.yaml", yaml->str, -1, 0600);
    return g_build_filename(root, "clinic", NULL);
}

static void rehearse(const char *root)
{
    g_autofree char *program = osier();
    g_autofree char *house = clinic(root);
    g_autofree char *out = g_build_filename(root, "out", NULL);
    const char *words[] = {program,      "rehearse", "--clinic", house,    "--from",
                           "2026-03-02", "--days",   "84",       "--seed", SEED,
                           "--clients",  "6",        "--out",    out,      NULL};
    g_autofree char *said = NULL;
    g_autofree char *complained = NULL;
    int status = 0;

    assert_true(g_spawn_sync(NULL, (char **)words, NULL, G_SPAWN_DEFAULT, NULL, NULL, &said,
                             &complained, &status, NULL));
    assert_true(WIFEXITED(status));
    /* A gateway that fails for a while is in osierd's log; nothing else is. */
    if (WEXITSTATUS(status) != 0 || strstr(complained, "ERROR") != NULL) fail_msg("%s", complained);
    assert_non_null(strstr(said, "ankle-pumping to calf-with-strap, confirmed by"));
}

static char *content(const char *root, const char *file)
{
    g_autofree char *path = g_build_filename(root, "out", file, NULL);
    char *text = NULL;

    if (!g_file_get_contents(path, &text, NULL, NULL)) fail_msg("no %s", path);
    return text;
}

static void read_ledger(Course *course, const char *root)
{
    g_autofree char *text = content(root, "ledger.jsonl");
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);

    for (int i = 0; lines[i] != NULL && *lines[i] != '\0'; i++) {
        json_t *event = json_loads(lines[i], 0, NULL);
        assert_non_null(event);
        take(course, event);
        json_decref(event);
    }
}

static void count_goodbyes(Course *course, const char *root)
{
    g_autofree char *text = content(root, "messages.jsonl");
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);

    for (int i = 0; lines[i] != NULL; i++)
        course->goodbyes += strstr(lines[i], "\"kind\":\"goodbye\"") != NULL;
}

static void twelve_weeks_take_clients_through_the_stages(void **state)
{
    static const char *const STAGES[] = {"calf-with-strap", "lower-hamstring", "upper-hamstring",
                                         "hip-hinge", "upkeep"};
    Course course = {.open = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free),
                     .kinds = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free),
                     .reached = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
    char *root = folder_new();

    (void)state;
    print_message("seed %s\n", SEED);
    rehearse(root);
    read_ledger(&course, root);
    count_goodbyes(&course, root);
    g_autofree char *text = content(root, "summary.json");
    json_t *summary = json_loads(text, 0, NULL);
    assert_int_equal(json_integer_value(json_object_get(summary, "lost")), 0);
    assert_int_equal(json_integer_value(json_object_get(summary, "repeated")), 0);
    assert_int_equal(json_integer_value(json_object_get(summary, "moves")),
                     course.on + course.back + course.by_alert);
    json_decref(summary);
    print_message("moved on %d, back %d and %d with an alert, measures %d, finished %d\n",
                  course.on, course.back, course.by_alert, course.sides, course.finished);
    for (size_t i = 0; i < G_N_ELEMENTS(STAGES); i++)
        assert_true(g_hash_table_contains(course.reached, STAGES[i]));
    assert_true(course.on >= 12);
    assert_true(course.back >= 1);
    assert_true(course.sides >= 40);
    assert_true(course.finished >= 1);
    assert_true(course.goodbyes >= course.finished);
    g_hash_table_unref(course.open);
    g_hash_table_unref(course.kinds);
    g_hash_table_unref(course.reached);
    folder_remove(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(twelve_weeks_take_clients_through_the_stages),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
