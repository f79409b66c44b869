/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/desk.h"

#include <string.h>

#include "daemon/desk/outlook.h"

#define FULL_WAIT_MS (30 * SECOND_MS)

struct Desk {
    Store *store;
    Clock *clock;
    Random *random;
    Vault *vault;
    Log *log;
    Tally tally;
    Settings *settings;
    Zones *zones;    /* used on the store thread alone */
    People *people;  /* the same */
    Outlook outlook; /* the same */
    int settings_number;
    DeskChanged *changed;
    DeskFailed *failed;
    void *watch_context;
    Timer *probe; /* set while the device is full */
    bool full;
    bool broken;
    DeskTray tray;
    bool sender;
};

typedef struct {
    Desk *desk;
    Settings *settings;
    int settings_number;
    int64_t now_ms;
    JobRun *run;
    JobDone *done;
    void *context;
    DeskNext next;
    GPtrArray *barred; /* for next; NULL while there are none */
    bool reads;        /* it only looks, and may find that there is no room once */
    bool full;         /* the log wants personal data too */
    Tally tally;       /* what the job wrote */
    GString *lines;    /* the same for the log; NULL: there is none */
} Errand;

static bool probe_job(Job *job, void *context)
{
    (void)job;
    (void)context;
    return true;
}

static void on_probe(void *context)
{
    desk_submit(context, probe_job, NULL, NULL);
}

Desk *desk_new(Store *store, Clock *clock, Random *random, Settings *settings)
{
    Desk *desk = g_new0(Desk, 1);

    desk->store = store;
    desk->clock = clock;
    desk->random = random;
    desk->settings = settings_ref(settings);
    desk->zones = zones_new();
    desk->people = people_new();
    desk->sender = true;
    desk->probe = timer_new(clock, on_probe, desk);
    return desk;
}

void desk_free(Desk *desk)
{
    if (desk == NULL) return;
    timer_free(desk->probe);
    settings_unref(desk->settings);
    people_free(desk->people);
    zones_free(desk->zones);
    g_free(desk);
}

void desk_watch(Desk *desk, DeskChanged *changed, DeskFailed *failed, void *context)
{
    desk->changed = changed;
    desk->failed = failed;
    desk->watch_context = context;
}

void desk_set_vault(Desk *desk, Vault *vault)
{
    desk->vault = vault;
}

void desk_set_settings(Desk *desk, Settings *settings)
{
    settings_unref(desk->settings);
    desk->settings = settings_ref(settings);
    desk->settings_number++;
}

void desk_set_log(Desk *desk, Log *log)
{
    desk->log = log;
}

Log *desk_log(const Desk *desk)
{
    return desk->log;
}

const Tally *desk_tally(const Desk *desk)
{
    return &desk->tally;
}

DeskTray *desk_tray(Desk *desk)
{
    return &desk->tray;
}

Settings *desk_settings(Desk *desk)
{
    return desk->settings;
}

Clock *desk_clock(Desk *desk)
{
    return desk->clock;
}

Random *desk_random(Desk *desk)
{
    return desk->random;
}

Store *desk_store(Desk *desk)
{
    return desk->store;
}

bool desk_is_sender(const Desk *desk)
{
    return desk->sender;
}

bool desk_is_full(const Desk *desk)
{
    return desk->full;
}

bool desk_is_broken(const Desk *desk)
{
    return desk->broken;
}

GTimeZone *job_zone(Job *job, const char *id)
{
    GTimeZone *zone = zones_get(job->zones, id);

    return zone != NULL ? zone : job_clinic_zone(job);
}

GTimeZone *job_clinic_zone(Job *job)
{
    GTimeZone *zone = zones_get(job->zones, job->clinic->zone);

    g_assert(zone != NULL);
    return zone;
}

const ZoneDay *job_day(Job *job, const char *id)
{
    const ZoneDay *day = zones_day(job->zones, id, job->now_ms);

    return day != NULL ? day : zones_day(job->zones, job->clinic->zone, job->now_ms);
}

ZoneStretch *job_near(Job *job, const char *id)
{
    ZoneStretch *near = zones_near(job->zones, id);

    return near != NULL ? near : zones_near(job->zones, job->clinic->zone);
}

static void tell_next(const Outlook *outlook, Tx *tx, DeskNext *next)
{
    next->sender = outlook->sender;
    next->moves = tx_moves(tx);
    next->due_ms = outlook->due_ms;
    memcpy(next->send_ms, outlook->send_ms, sizeof next->send_ms);
}

/* Whose messages must pass the last gate again after such an event? NULL: nobody's. */
static const char *barred_by(const Event *event)
{
    static const char *const KINDS[] = {"client.stop", "client.pause",   "client.suspend",
                                        "client.end",  "client.erase",   "client.consent",
                                        "client.set",  "client.same_as", "hold.set",
                                        "plan.set",    "plan.move"};

    for (size_t i = 0; i < G_N_ELEMENTS(KINDS); i++)
        if (strcmp(event->kind, KINDS[i]) == 0) return event->subject;
    return NULL;
}

static void note_barred(Errand *errand, const char *client)
{
    if (client == NULL) return;
    if (errand->barred == NULL) errand->barred = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(errand->barred, g_strdup(client));
    errand->next.barred = errand->barred;
}

/* Messages are kept under the id that tx_one tells; what was written may name another of the client's. */
static void note_barred_as_kept(Errand *errand, Tx *tx)
{
    for (guint i = 0, n = errand->barred != NULL ? errand->barred->len : 0; i < n; i++) {
        const char *client = errand->barred->pdata[i], *kept_as = tx_one(tx, client);
        if (strcmp(kept_as, client) != 0) note_barred(errand, kept_as);
    }
}

/* Has somebody's record gone? Words that were kept as long as the clinic says (their event's subject is "words") leave the copies
 * with the copies. */
static bool is_erasure(const Event *event)
{
    return strcmp(event->kind, "client.erase") == 0 ||
           (strcmp(event->kind, "redacted") == 0 && strcmp(event->subject, "words") != 0);
}

static void hear(const Event *event, const json_t *body, void *context)
{
    Errand *errand = context;

    if (is_erasure(event)) errand->next.erased = true;
    note_barred(errand, barred_by(event));
    if (strcmp(event->kind, "client.same_as") == 0)
        note_barred(errand, json_string_value(json_object_get(body, "of")));
    told_event(&errand->tally, errand->lines, errand->full, event, body);
}

static void mark_erasure(Tx *tx)
{
    g_autofree char *before = tx_meta(tx, DESK_ERASED);
    int64_t number = before != NULL ? g_ascii_strtoll(before, NULL, 10) : 0;
    g_autofree char *mark = g_strdup_printf("%" G_GINT64_FORMAT, number + 1);

    tx_set_meta(tx, DESK_ERASED, mark);
}

static bool run_errand(Tx *tx, void *context)
{
    Errand *errand = context;
    Outlook *outlook = &errand->desk->outlook;
    people_begin(errand->desk->people, errand->settings_number);
    Job job = {.tx = tx,
               .settings = errand->settings,
               .clinic = settings_clinic(errand->settings),
               .zones = errand->desk->zones,
               .people = errand->desk->people,
               .random = errand->desk->random,
               .vault = errand->desk->vault,
               .now_ms = errand->now_ms,
               .made_up = clock_is_virtual(errand->desk->clock),
               .sender = outlook_sender(outlook, tx)};
    tx_hear(tx, hear, errand);
    bool kept = errand->run(&job, errand->context);

    if (job.erased) errand->next.erased = true;
    if (kept && errand->next.erased) mark_erasure(tx);
    if (kept) {
        outlook_find(outlook, tx);
        tell_next(outlook, tx, &errand->next);
        note_barred_as_kept(errand, tx);
    }
    errand->next.posted = job.posted;
    return kept;
}

static void note_full(Desk *desk, StoreStatus status)
{
    bool full = status != STORE_OK;

    if (full || desk->full)
        timer_set(desk->probe, full ? clock_now(desk->clock) + FULL_WAIT_MS : CLOCK_NEVER);
    if (full && !desk->full)
        log_line(desk->log, LOG_ERRORS, status == STORE_AWAY ? "store.away" : "store.full", "why",
                 desk->store->problem(desk->store), NULL);
    if (!full && desk->full) log_line(desk->log, LOG_WARNINGS, "store.writes", NULL);
    desk->full = full;
}

/* What is in the ledger now is told. */
static void tell(Desk *desk, const Errand *errand)
{
    tally_add(&desk->tally, &errand->tally);
    if (errand->lines != NULL) log_lines(desk->log, LOG_PLAIN, errand->lines);
}

static void errand_free(Errand *errand)
{
    settings_unref(errand->settings);
    if (errand->lines != NULL) g_string_free(errand->lines, TRUE);
    if (errand->barred != NULL) g_ptr_array_unref(errand->barred);
    g_free(errand);
}

static void read_again(Errand *errand);

static void finish(StoreStatus status, void *context)
{
    Errand *errand = context;
    Desk *desk = errand->desk;

    errand->next.again = status == STORE_OK && desk->full;
    if (status == STORE_OK) desk->sender = errand->next.sender;
    if (status == STORE_OK || store_passes(status)) note_full(desk, status);
    if (status == STORE_FULL && errand->reads) {
        read_again(errand);
        return;
    }
    if (status == STORE_OK) tell(desk, errand);
    if (errand->done != NULL) errand->done(status, errand->context);
    if (status == STORE_OK && desk->changed != NULL)
        desk->changed(&errand->next, desk->watch_context);
    if ((status == STORE_FAILED || status == STORE_STALE) && !desk->broken) {
        desk->broken = true;
        if (desk->failed != NULL)
            desk->failed(status, desk->store->problem(desk->store), desk->watch_context);
    }
    errand_free(errand);
}

static Errand *errand_new(Desk *desk, JobRun *run, JobDone *done, void *context)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.desk = desk,
                       .settings = settings_ref(desk->settings),
                       .settings_number = desk->settings_number,
                       .now_ms = clock_now(desk->clock),
                       .run = run,
                       .done = done,
                       .context = context,
                       .full = log_is_full(desk->log),
                       .lines = desk->log != NULL ? g_string_new(NULL) : NULL};
    return errand;
}

void desk_submit(Desk *desk, JobRun *run, JobDone *done, void *context)
{
    Errand *errand = errand_new(desk, run, done, context);

    store_submit(desk->store, errand->now_ms, run_errand, finish, errand);
}

/* The lack of room was found out with this very job: now that it is known, the job is let look. */
static void read_again(Errand *errand)
{
    Errand *again = errand_new(errand->desk, errand->run, errand->done, errand->context);

    errand_free(errand);
    store_read(again->desk->store, again->now_ms, run_errand, finish, again);
}

void desk_read(Desk *desk, JobRun *run, JobDone *done, void *context)
{
    Errand *errand = errand_new(desk, run, done, context);

    errand->reads = true;
    store_read(desk->store, errand->now_ms, run_errand, finish, errand);
}
