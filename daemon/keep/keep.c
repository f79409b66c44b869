/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/keep/keep.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/statvfs.h>

#include "adapters/seal/seal.h"
#include "adapters/store/store_sqlite.h"
#include "daemon/jobs/alert.h"
#include "daemon/keep/copies.h"

/* A night is missing when the newest copy is older than this. */
#define NIGHT_MS (25 * HOUR_MS)

struct Keep {
    Desk *desk;
    char *folder;
    uv_loop_t *loop;
    Timer *timer;
    int busy;
    bool stopped;
    int64_t last_ms; /* 0: none since the start */
    char *last_file;
    char *last_problem;
    GHashTable *making; /* set of paths of copies that are ordered; not all are there yet */
    /* One at a time: a renewal would take away the copy that a night looks at. */
    bool in_hand;
    bool wants_renewal, wants_night;
    GPtrArray *outdated; /* names of the copies that a renewal replaces, or NULL */
    char *mark;          /* DESK_ERASED as it was when the renewal began, or NULL */
};

/* One night's work on a copy, off the loop. */
typedef struct {
    Keep *keep;
    uv_work_t work;
    char *file; /* the copy, then what it was sealed into */
    char *key;  /* or NULL */
    int most;   /* copies to keep */
    char *problem;
} Night;

static const Clinic *clinic_of(const Keep *keep)
{
    return settings_clinic(desk_settings(keep->desk));
}

/* --- names --- */

static char *path_at(const Keep *keep, int64_t at_ms)
{
    g_autofree char *name = copies_name(at_ms);

    return g_build_filename(keep->folder, name, NULL);
}

/* Of the moment, or of the next second that has none: two of one second are two copies. */
static char *copy_path(const Keep *keep)
{
    int64_t at_ms = clock_now(desk_clock(keep->desk));
    char *path = path_at(keep, at_ms);

    while (g_file_test(path, G_FILE_TEST_EXISTS) || g_hash_table_contains(keep->making, path)) {
        g_free(path);
        at_ms += SECOND_MS;
        path = path_at(keep, at_ms);
    }
    return path;
}

/* --- a copy --- */

typedef struct {
    Keep *keep;
    char *file;
    KeepMade *made;
    void *context;
} Making;

static void copied(const char *problem, void *context)
{
    Making *making = context;

    g_hash_table_remove(making->keep->making, making->file);
    making->made(problem == NULL ? making->file : NULL, problem, making->context);
    g_free(making->file);
    g_free(making);
}

void keep_copy(Keep *keep, KeepMade *made, void *context)
{
    Store *store = desk_store(keep->desk);
    Making *making = g_new0(Making, 1);

    *making = (Making){.keep = keep, .file = copy_path(keep), .made = made, .context = context};
    g_hash_table_add(keep->making, making->file);
    if (g_mkdir(keep->folder, 0700) != 0 && errno != EEXIST) {
        g_autofree char *problem =
            g_strdup_printf("%s: cannot be made: %s", keep->folder, g_strerror(errno));
        copied(problem, making);
        return;
    }
    store->copy(store, making->file, copied, making);
}

/* --- copies that hold words of somebody who was erased --- */

static bool settle_job(Job *job, void *context)
{
    g_autofree char *mark = tx_meta(job->tx, DESK_ERASED);

    if (g_strcmp0(mark, context) == 0) tx_set_meta(job->tx, DESK_ERASED, "");
    return true;
}

static void settle_done(StoreStatus status, void *context)
{
    (void)status; /* where it is not kept, the copies are renewed once more at the next start */
    g_free(context);
}

static void go_on(Keep *keep);

static void end_renewal(Keep *keep, bool is_done)
{
    if (is_done && keep->mark != NULL && !keep->wants_renewal)
        desk_submit(keep->desk, settle_job, settle_done, g_steal_pointer(&keep->mark));
    keep->in_hand = false;
    go_on(keep);
}

static void renewed(const char *file, const char *problem, void *context)
{
    Keep *keep = context;
    g_autoptr(GPtrArray) outdated = g_steal_pointer(&keep->outdated);

    (void)problem; /* the night's copy tells, and the old ones stay until one is made */
    if (file != NULL) copies_drop(keep->folder, outdated);
    end_renewal(keep, file != NULL);
}

static bool mark_job(Job *job, void *context)
{
    Keep *keep = context;

    g_free(keep->mark);
    keep->mark = tx_meta(job->tx, DESK_ERASED);
    if (keep->mark != NULL && *keep->mark == '\0') g_clear_pointer(&keep->mark, g_free);
    return true;
}

static void replace_marked(StoreStatus status, void *context)
{
    Keep *keep = context;

    if (!desk_has_read(status) || keep->mark == NULL) {
        end_renewal(keep, false);
        return;
    }
    keep->outdated = copies_plain(keep->folder);
    if (keep->outdated->len > 0)
        keep_copy(keep, renewed, keep);
    else
        renewed("", NULL, keep);
}

static void begin_renewal(Keep *keep)
{
    keep->wants_renewal = false;
    keep->in_hand = true;
    desk_read(keep->desk, mark_job, replace_marked, keep);
}

void keep_renew(Keep *keep)
{
    keep->wants_renewal = true;
    go_on(keep);
}

/* --- a night --- */

/* Opens the copy as a restore would, and reads all of it. NULL where it is sound (g_free). */
static char *check_copy(const char *file)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    if (store_sqlite_check(file, false, findings, &events, &why) != OPEN_OK)
        return g_steal_pointer(&why);
    return findings->len == 0 ? NULL : g_strdup_printf("%s: %s", file, (char *)findings->pdata[0]);
}

static char *seal_copy(Night *night)
{
    g_autofree char *stem = g_strndup(night->file, strlen(night->file) - strlen(".db"));
    g_autofree char *sealed = g_strconcat(stem, ".sealed", NULL);
    char *problem = seal_file(night->file, sealed, night->key);

    g_unlink(night->file);
    g_free(night->file);
    night->file = g_steal_pointer(&sealed);
    return problem;
}

static void do_night(uv_work_t *work)
{
    Night *night = work->data;

    night->problem = check_copy(night->file);
    if (night->problem == NULL && night->key != NULL) night->problem = seal_copy(night);
    if (night->problem == NULL) copies_drop_oldest(night->keep->folder, night->most);
}

static bool alert_job(Job *job, void *context)
{
    const char *problem = context;
    json_t *reasons = json_array();

    json_array_append_new(reasons, reason_words("backup", "failed", problem));
    g_free(alert_open(
        job, NULL,
        &(Opening){.kind = "backup", .class = ALERT_TODAY, .cause = "backup", .reasons = reasons}));
    json_decref(reasons);
    return true;
}

static void alert_done(StoreStatus status, void *context)
{
    (void)status;
    g_free(context);
}

static void note(Keep *keep, const char *file, const char *problem)
{
    keep->last_ms = clock_now(desk_clock(keep->desk));
    g_free(keep->last_file);
    g_free(keep->last_problem);
    keep->last_file = g_strdup(file);
    keep->last_problem = g_strdup(problem);
    log_line(desk_log(keep->desk), problem != NULL ? LOG_ERRORS : LOG_PLAIN,
             problem != NULL ? "copy.failed" : "copy.made", "file", file, "why", problem, NULL);
    if (problem != NULL && !keep->stopped)
        desk_submit(keep->desk, alert_job, alert_done, g_strdup(problem));
}

static void end_night(Keep *keep)
{
    keep->in_hand = false;
    go_on(keep);
}

static void night_done(uv_work_t *work, int status)
{
    Night *night = work->data;

    note(night->keep, night->file, status != 0 ? "the check was given up" : night->problem);
    night->keep->busy--;
    end_night(night->keep);
    g_free(night->file);
    g_free(night->key);
    g_free(night->problem);
    g_free(night);
}

static void night_copied(const char *file, const char *problem, void *context)
{
    Keep *keep = context;
    const Clinic *clinic = clinic_of(keep);

    if (file == NULL) {
        note(keep, NULL, problem);
        end_night(keep);
        return;
    }
    Night *night = g_new0(Night, 1);
    *night = (Night){.keep = keep,
                     .file = g_strdup(file),
                     .key = g_strdup(clinic->backup_key),
                     .most = clinic->backup_keep};
    night->work.data = night;
    keep->busy++;
    if (keep->loop != NULL && uv_queue_work(keep->loop, &night->work, do_night, night_done) == 0)
        return;
    do_night(&night->work);
    night_done(&night->work, 0);
}

static void begin_night(Keep *keep)
{
    keep->wants_night = false;
    keep->in_hand = true;
    keep_copy(keep, night_copied, keep);
}

/* --- when --- */

/* What a stop leaves undone is done after the next start. */
static void go_on(Keep *keep)
{
    if (keep->in_hand || keep->stopped) return;
    if (keep->wants_renewal)
        begin_renewal(keep);
    else if (keep->wants_night)
        begin_night(keep);
}

static int64_t next_night(const Keep *keep)
{
    const Clinic *clinic = clinic_of(keep);
    int64_t now_ms = clock_now(desk_clock(keep->desk));
    g_autoptr(GTimeZone) zone = g_time_zone_new_identifier(clinic->zone);
    LocalTime at = {.day = zone_local(zone, now_ms).day, .second = clinic->backup_second};

    if (zone_instant(zone, at, NULL) <= now_ms) at.day++;
    return zone_instant(zone, at, NULL);
}

/* Is the newest copy too old, as after a night with the machine switched off? */
static bool missed_one(const Keep *keep)
{
    g_autoptr(GPtrArray) names = copies_all(keep->folder);

    if (names->len == 0) return true;
    g_autofree char *newest = g_build_filename(keep->folder, names->pdata[names->len - 1], NULL);
    GStatBuf about;
    return g_stat(newest, &about) != 0 ||
           clock_now(desk_clock(keep->desk)) - (int64_t)about.st_mtime * 1000 > NIGHT_MS;
}

static void on_timer(void *context)
{
    Keep *keep = context;

    keep->wants_night = true;
    go_on(keep);
    timer_set(keep->timer, next_night(keep));
}

void keep_start(Keep *keep)
{
    if (clinic_of(keep)->backup_second < 0) {
        timer_set(keep->timer, CLOCK_NEVER);
        return;
    }
    if (!clock_is_virtual(desk_clock(keep->desk)) && missed_one(keep)) {
        on_timer(keep);
        return;
    }
    timer_set(keep->timer, next_night(keep));
}

void keep_stop(Keep *keep)
{
    keep->stopped = true;
    timer_set(keep->timer, CLOCK_NEVER);
}

int64_t keep_room(const Keep *keep)
{
    g_autofree char *clinic = g_path_get_dirname(keep->folder);
    struct statvfs device;

    return statvfs(clinic, &device) == 0 ? (int64_t)device.f_bavail * (int64_t)device.f_frsize : -1;
}

int keep_busy(const Keep *keep)
{
    return keep->busy;
}

Keep *keep_new(Desk *desk, const char *dir, uv_loop_t *loop)
{
    Keep *keep = g_new0(Keep, 1);

    keep->desk = desk;
    keep->folder = g_build_filename(dir, "backups", NULL);
    keep->loop = loop;
    keep->making = g_hash_table_new(g_str_hash, g_str_equal);
    keep->timer = timer_new(desk_clock(desk), on_timer, keep);
    return keep;
}

void keep_free(Keep *keep)
{
    if (keep == NULL) return;
    while (keep->busy > 0)
        uv_run(keep->loop, UV_RUN_ONCE);
    timer_free(keep->timer);
    g_hash_table_unref(keep->making);
    g_free(keep->folder);
    g_free(keep->mark);
    g_free(keep->last_file);
    g_free(keep->last_problem);
    g_free(keep);
}

json_t *keep_json(const Keep *keep)
{
    if (clinic_of(keep)->backup_second < 0) return json_null();
    g_autofree char *at = keep->last_ms > 0 ? instant_format(keep->last_ms) : NULL;
    g_autofree char *next = instant_format(timer_at(keep->timer));
    return json_pack("{s:s?, s:s?, s:s?, s:s}", "at", at, "file", keep->last_file, "problem",
                     keep->last_problem, "next", next);
}
