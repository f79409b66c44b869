/* SPDX-License-Identifier: Apache-2.0 */
/* Each try is a process that branches off here, so that all begin at the same place, and a crash is seen. */
#include "tests/sim/loss.h"

#include <glib/gstdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "core/calendar/date.h"
#include "core/ledger/row.h"
#include "tests/sim/clinic.h"

/* A step, read. */
typedef struct {
    char *how, *what, *body, *save; /* save and body may be NULL */
} LossStep;

#define TRY_SECONDS 60
/* After so many that went wrong at one step the rest would say the same. */
#define WRONG_MOST 5

/* How a try ends. */
enum { TRY_SAME = 0, TRY_PASSED = 10, TRY_WRONG = 11 };

typedef struct {
    SimClinic *clinic;
    GHashTable *names; /* "ada" to what $ada stands for */
    char *reference;   /* a file: the tables as they are without loss */
    int texts;         /* that came in */
    const char *wrong; /* what a caller was told, or NULL */
    int wrong_status;
    int apart; /* points, from one try to the next */
    int tries;
    bool seen; /* the loss; what was drawn in the job that was lost has been put back */
} LossDay;

/* --- the tables, as text ------------------------------------------------------------------------------------------------- */

static bool add_event(const Event *event, void *context)
{
    GPtrArray *lines = context;

    g_ptr_array_add(lines, g_strdup_printf("event %" G_GINT64_FORMAT " %" G_GINT64_FORMAT
                                           ".%" G_GINT64_FORMAT " %s %s %s\n",
                                           event->seq, event->wall, event->logical, event->kind,
                                           event->subject, event->body));
    return true;
}

/* Cards are made again from what is there; the probe is the store's own trace of a loss; an invitation is drawn from the system's
 * own randomness, so that each try makes another. */
static bool counts(Row *row)
{
    if (row_table(row) == TABLE_ACCOUNT) row_set_text(row, ACCOUNT_INVITE, NULL);
    return row_table(row) != TABLE_CARD &&
           (row_table(row) != TABLE_META || strcmp(row_text(row, META_KEY), "probe") != 0);
}

static int by_text(const void *one, const void *other)
{
    return strcmp(*(char *const *)one, *(char *const *)other);
}

static bool dump_job(Tx *tx, void *context)
{
    GPtrArray *lines = context;

    for (TableId id = 0; id < TABLE_COUNT; id++) {
        g_autoptr(GPtrArray) rows = tx_rows(tx, id, "", "");
        for (guint i = 0; i < rows->len; i++) {
            GString *line = g_string_new(NULL);
            if (counts(rows->pdata[i])) row_append_line(rows->pdata[i], line);
            g_ptr_array_add(lines, g_string_free(line, FALSE));
        }
    }
    tx_events(tx, "", add_event, lines, "");
    return true;
}

static char *dump(SimClinic *clinic)
{
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);
    GString *text = g_string_new(NULL);

    device_look(clinic->device, dump_job, lines);
    g_ptr_array_sort(lines, by_text);
    for (guint i = 0; i < lines->len; i++)
        g_string_append(text, lines->pdata[i]);
    return g_string_free(text, FALSE);
}

/* --- a step -------------------------------------------------------------------------------------------------------------- */

static void before_turn(SimClinic *clinic, void *context)
{
    LossDay *day = context;

    if (!device_has_lost(clinic->device))
        random_keep(clinic->chance);
    else if (!day->seen)
        random_draw_again(clinic->chance);
    day->seen = device_has_lost(clinic->device);
}

static bool nothing(Job *job, void *context)
{
    (void)job;
    (void)context;
    return true;
}

/* The daemon hears at once that the database is there again, so that what was lost is tried again at the same instant. */
static void heal(LossDay *day)
{
    Desk *desk = daemon_desk(day->clinic->daemon);

    sim_settle(day->clinic);
    if (!desk_is_full(desk)) return;
    desk_submit(desk, nothing, NULL, NULL);
    sim_settle(day->clinic);
}

/* With each $name replaced (g_free). */
static char *fill(const LossDay *day, const char *text)
{
    GString *filled = g_string_new(text);
    GHashTableIter each;
    gpointer name, value;

    g_hash_table_iter_init(&each, day->names);
    while (g_hash_table_iter_next(&each, &name, &value)) {
        g_autofree char *mark = g_strconcat("$", name, NULL);
        g_string_replace(filled, mark, value, 0);
    }
    return g_string_free(filled, FALSE);
}

static void save(LossDay *day, const char *as, const json_t *answer)
{
    g_auto(GStrv) parts = g_strsplit(as, "=", 2);
    const json_t *from = json_is_array(answer) ? json_array_get(answer, 0) : answer;
    const char *value = json_string_value(json_object_get(from, parts[1]));

    if (value == NULL) g_error("no %s in %s", parts[1], json_dumps(answer, JSON_ENCODE_ANY));
    g_hash_table_replace(day->names, g_strdup(parts[0]), g_strdup(value));
}

static void tell_wrong(LossDay *day, const char *what, int status)
{
    if (status != 200 && day->wrong == NULL) {
        day->wrong = what;
        day->wrong_status = status;
    }
}

/* Answered "later", it is called again. */
static void call(LossDay *day, const LossStep *step)
{
    g_autofree char *path = fill(day, step->what);
    g_autofree char *text = fill(day, step->body != NULL ? step->body : "{}");
    bool get = strcmp(step->how, "GET") == 0;
    int status = 503;
    json_t *answer = NULL;

    for (int i = 0; i < 2 && status == 503; i++) {
        json_t *body = get ? NULL : json_loads(text, 0, NULL);
        g_assert(get || body != NULL);
        json_decref(answer);
        answer = sim_call(day->clinic, step->how, path, body, &status);
        heal(day);
    }
    tell_wrong(day, "the answer is", status);
    if (status != 200) g_printerr("    %s\n", json_dumps(answer, JSON_ENCODE_ANY));
    if (step->save != NULL && status == 200) save(day, step->save, answer);
    json_decref(answer);
}

static void heard(int status, void *context)
{
    *(int *)context = status;
}

static void text_in(LossDay *day, const LossStep *step)
{
    g_autofree char *from = fill(day, step->what);
    g_autofree char *words = fill(day, step->body);
    g_autofree char *id = g_strdup_printf("said%d", ++day->texts);
    g_autofree char *at = instant_format(sim_now(day->clinic));
    json_t *item =
        json_pack("{s:s, s:s, s:s, s:s}", "id", id, "from", from, "text", words, "at", at);
    char *json = json_dumps(item, JSON_COMPACT);
    int status = 503;

    for (int i = 0; i < 2 && status == 503; i++) {
        sim_hook(day->clinic, "/in/texts", json, heard, &status);
        heal(day);
    }
    tell_wrong(day, "the gateway is answered", status);
    free(json);
    json_decref(item);
}

/* From one due instant to the next. */
static void go_to(LossDay *day, const char *when)
{
    SimClinic *clinic = day->clinic;
    int64_t to_ms = 0;

    g_assert(instant_parse(when, &to_ms));
    for (int64_t next; (next = clock_next(clinic->clock)) <= to_ms;) {
        sim_to(clinic, MAX(next, sim_now(clinic)));
        heal(day);
    }
    sim_to(clinic, to_ms);
}

static void play(LossDay *day, const LossStep *step)
{
    if (strcmp(step->how, "TEXT") == 0)
        text_in(day, step);
    else if (strcmp(step->how, "TO") == 0 || strcmp(step->how, "ABOUT") == 0)
        go_to(day, step->what);
    else
        call(day, step);
    heal(day);
}

/* --- the tries ----------------------------------------------------------------------------------------------------------- */

static void print_wrong(const LossStep *step, int n, const char *what)
{
    g_printerr("%s %s: lost at point %d: %s\n", step->how, step->what, n, what);
}

/* The first lines that are in one and not in the other. */
static void print_difference(const char *want, const char *have)
{
    g_auto(GStrv) wanted = g_strsplit(want, "\n", -1), got = g_strsplit(have, "\n", -1);
    int shown = 0;

    for (char **line = wanted; *line != NULL && shown < 6; line++)
        if (!g_strv_contains((const char *const *)got, *line))
            shown++, g_printerr("    - %.300s\n", *line);
    for (char **line = got; *line != NULL && shown < 12; line++)
        if (!g_strv_contains((const char *const *)wanted, *line))
            shown++, g_printerr("    + %.300s\n", *line);
}

/* Numbers of 13 digits. */
static void blank_instants(char *text)
{
    for (char *p = text; *p != '\0';) {
        size_t digits = strspn(p, "0123456789");
        if (digits == 13) memset(p, '.', digits);
        p += MAX(digits, 1);
    }
}

/* The child's work: how it ends. */
static int try_here(LossDay *day, const LossStep *step, int n)
{
    g_autofree char *want = NULL;

    alarm(TRY_SECONDS);
    if (n > 0) device_lose(day->clinic->device, n);
    play(day, step);
    bool lost = device_has_lost(day->clinic->device);
    device_lose(day->clinic->device, 0);
    if (n > 0 && !lost) return TRY_PASSED;
    if (day->wrong != NULL) {
        g_autofree char *why = g_strdup_printf("%s %d", day->wrong, day->wrong_status);
        print_wrong(step, n, why);
        return TRY_WRONG;
    }
    if (trace_broken(day->clinic->trace)) {
        print_wrong(step, n, trace_rule(day->clinic->trace));
        return TRY_WRONG;
    }
    g_autofree char *have = dump(day->clinic);
    if (n == 0) return g_file_set_contents(day->reference, have, -1, NULL) ? TRY_SAME : TRY_WRONG;
    if (!g_file_get_contents(day->reference, &want, NULL, NULL)) return TRY_WRONG;
    if (strcmp(step->how, "ABOUT") == 0) {
        blank_instants(want);
        blank_instants(have);
    }
    if (strcmp(want, have) == 0) return TRY_SAME;
    print_wrong(step, n, "the tables differ");
    print_difference(want, have);
    return TRY_WRONG;
}

/* How a process that tries it ended; TRY_WRONG for a crash, which is printed. */
static int try(LossDay *day, const LossStep *step, int n)
{
    int status = 0;
    pid_t pid = fork();

    g_assert(pid >= 0);
    if (pid == 0) _exit(try_here(day, step, n));
    g_assert(waitpid(pid, &status, 0) == pid);
    if (WIFEXITED(status) &&
        (WEXITSTATUS(status) == TRY_SAME || WEXITSTATUS(status) == TRY_PASSED ||
         WEXITSTATUS(status) == TRY_WRONG))
        return WEXITSTATUS(status);
    print_wrong(step, n, WIFSIGNALED(status) && WTERMSIG(status) == SIGALRM ? "hangs" : "crashes");
    return TRY_WRONG;
}

static int try_step(LossDay *day, const LossStep *step)
{
    int wrong = 0, ended = try(day, step, 0);

    if (ended != TRY_SAME) return 1;
    for (int n = 1 + day->apart / 2;
         wrong < WRONG_MOST && (ended = try(day, step, n)) != TRY_PASSED; n += day->apart)
        wrong += ended == TRY_WRONG, day->tries++;
    return wrong;
}

static LossStep read_step(const char *text)
{
    g_auto(GStrv) halves = g_strsplit(text, " -> ", 2);
    g_auto(GStrv) parts = g_strsplit(halves[0], " ", 3);

    return (LossStep){.how = g_strdup(parts[0]),
                      .what = g_strdup(parts[1]),
                      .body = g_strdup(parts[2]),
                      .save = g_strdup(halves[1])};
}

static void clear_step(LossStep *step)
{
    g_free(step->how);
    g_free(step->what);
    g_free(step->body);
    g_free(step->save);
}

int loss_day(const char *const *steps, size_t n, bool far, int apart)
{
    SimSetup setup = {.seed = 7, .far = far};
    LossDay day = {.apart = apart,
                   .names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free)};
    int wrong = 0;

    g_assert(instant_parse("2026-03-02T08:00:00Z", &setup.start_ms));
    day.clinic = sim_clinic_new(&setup);
    day.clinic->turn = before_turn;
    day.clinic->turn_context = &day;
    day.reference = g_build_filename(day.clinic->folder, "reference", NULL);
    sim_start(day.clinic);
    for (size_t i = 0; i < n; i++) {
        LossStep step = read_step(steps[i]);
        wrong += try_step(&day, &step);
        play(&day, &step);
        clear_step(&step);
    }
    g_print("%d tries of %d steps\n", day.tries, (int)n);
    g_unlink(day.reference);
    sim_stop(day.clinic);
    sim_clinic_free(day.clinic);
    g_hash_table_unref(day.names);
    g_free(day.reference);
    return wrong;
}
