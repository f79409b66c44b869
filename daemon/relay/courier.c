/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/courier.h"

#include <string.h>

#include "adapters/program/program.h"
#include "adapters/program/talk.h"
#include "daemon/relay/courier_intake.h"
#include "daemon/relay/murmur.h"

#define HELLO_MS (10 * SECOND_MS)
#define HEALTH_EVERY_MS (5 * MINUTE_MS)
#define UNWELL_EVERY_MS (30 * SECOND_MS) /* while it says that it is not well */
#define UNWELL_WORTH_MS (2 * MINUTE_MS)  /* and so long is an alert's worth */
#define REST_FIRST_MS SECOND_MS
#define REST_MOST_MS (5 * MINUTE_MS)
#define STEADY_MS MINUTE_MS /* so long ready, and its next end is a first one */
#define ILL_FAILURES 3
#define LATE_MOST 3 /* unanswered in a row: it hangs */
#define ODD_MOST 20 /* lines in a row that mean nothing: it lies */

struct Courier {
    CourierShare share;
    char *name;
    Program *program;  /* NULL: resting */
    char *command;     /* as it was started, for a reload */
    Timer *timer;      /* resting: the next start; ready: the next look at its health */
    GHashTable *sends; /* id -> Sending */
    CourierIntake *intake;
    Murmur *murmur;
    bool wanted;
    bool ready;
    bool ending;
    int failures;
    int late;
    int odd;
    int64_t ready_ms;
    int64_t health_until_ms; /* real time by which its health must be told; 0: not asked */
    int64_t unwell_ms;       /* since when it has said that it is not well; 0: it is */
    bool unwell_told;
    char *words;
    char *problem;
};

typedef struct {
    CourierDone *done;
    void *context;
    int64_t until_ms; /* real time */
} Sending;

static int64_t real_ms(void)
{
    return g_get_monotonic_time() / 1000;
}

static const Gateway *gateway_of(const Courier *courier)
{
    const Gateway *gateway =
        clinic_gateway(settings_clinic(desk_settings(courier->share.desk)), courier->name);

    return gateway != NULL && gateway->kind == GATEWAY_PROGRAM ? gateway : NULL;
}

static int64_t answer_ms(const Courier *courier)
{
    const Gateway *gateway = gateway_of(courier);

    return gateway != NULL ? gateway->answer_ms : MINUTE_MS;
}

/* Sets the real timer to the first thing that must be answered. */
static void set_watch(Courier *courier)
{
    GHashTableIter each;
    void *value;
    int64_t until = courier->health_until_ms > 0 ? courier->health_until_ms : INT64_MAX;

    if (courier->program == NULL || !courier->ready) return;
    g_hash_table_iter_init(&each, courier->sends);
    while (g_hash_table_iter_next(&each, NULL, &value))
        until = MIN(until, ((Sending *)value)->until_ms);
    program_wait(courier->program, until == INT64_MAX ? -1 : MAX(0, until - real_ms()));
}

/* Tells the fate of one message. */
static void finish(Courier *courier, const char *id, Settlement settlement)
{
    g_autofree void *key = NULL;
    g_autofree Sending *sending = NULL;

    if (!g_hash_table_steal_extended(courier->sends, id, &key, (void **)&sending)) {
        settlement_clear(&settlement);
        return;
    }
    sending->done(settlement, sending->context);
}

static Settlement unsure(const char *reason)
{
    return (Settlement){.fate = FATE_UNSURE, .reason = g_strdup(reason), .retry_after_s = -1};
}

/* Everything whose time has passed by then; the number. */
static int finish_until(Courier *courier, int64_t until_ms, const char *reason)
{
    g_autoptr(GPtrArray) ids = g_ptr_array_new_with_free_func(g_free);
    GHashTableIter each;
    void *key, *value;

    g_hash_table_iter_init(&each, courier->sends);
    while (g_hash_table_iter_next(&each, &key, &value))
        if (((Sending *)value)->until_ms <= until_ms) g_ptr_array_add(ids, g_strdup(key));
    for (guint i = 0; i < ids->len; i++)
        finish(courier, ids->pdata[i], unsure(reason));
    return (int)ids->len;
}

static int64_t health_every(const Courier *courier)
{
    return courier->unwell_ms > 0 ? UNWELL_EVERY_MS : HEALTH_EVERY_MS;
}

/* --- what it says --- */

/* It is listened to again. */
static void on_taken(const char *id, void *context)
{
    Courier *courier = context;

    if (courier->program == NULL) return;
    g_autofree char *line = id != NULL ? talk_taken(id) : NULL;
    if (line != NULL) program_say(courier->program, line);
    program_listen(courier->program, true);
}

static void greet(Courier *courier, const Talk *talk)
{
    if (talk->version != TALK_VERSION) {
        program_kill(courier->program, "speaks another version");
        return;
    }
    if (courier->ready) return;
    courier->ready = true;
    courier->ready_ms = real_ms();
    courier->late = 0;
    timer_set(courier->timer, clock_now(desk_clock(courier->share.desk)) + health_every(courier));
    set_watch(courier);
    courier->share.turned(courier->share.context);
}

/* It is given nothing while it says that it is not well; after some minutes of that a clinician hears of it. */
static void take_health(Courier *courier, Talk *talk)
{
    int64_t now = real_ms();
    bool was_well = courier->unwell_ms == 0;

    courier->health_until_ms = 0;
    g_free(courier->words);
    courier->words = g_steal_pointer(&talk->words);
    if (talk->well) {
        courier->unwell_ms = 0;
        courier->unwell_told = false;
    } else if (was_well) {
        courier->unwell_ms = now;
    } else if (!courier->unwell_told && now - courier->unwell_ms >= UNWELL_WORTH_MS) {
        courier->unwell_told = true;
        courier->share.ill(courier->name, courier->share.context);
    }
    set_watch(courier);
    if (was_well == talk->well) return;
    log_line(desk_log(courier->share.desk), LOG_WARNINGS,
             talk->well ? "program.well" : "program.unwell", "gateway", courier->name, NULL);
    timer_set(courier->timer, clock_now(desk_clock(courier->share.desk)) + health_every(courier));
    courier->share.turned(courier->share.context);
}

static void hear(Courier *courier, Talk *talk)
{
    Settlement settlement;

    switch (talk->type) {
    case TALK_HELLO: greet(courier, talk); return;
    case TALK_FATE:
        courier->late = 0;
        settlement = talk->settlement;
        talk->settlement = (Settlement){0};
        finish(courier, talk->id, settlement);
        set_watch(courier);
        return;
    case TALK_RECEIPT:
        courier_intake_receipt(courier->intake, g_steal_pointer(&talk->receipt));
        break;
    case TALK_INCOMING:
        courier_intake_message(courier->intake, talk->id, g_steal_pointer(&talk->incoming));
        break;
    case TALK_HEALTH: take_health(courier, talk); return;
    case TALK_UNKNOWN:
    case TALK_BROKEN: return;
    }
    if (courier_intake_is_full(courier->intake)) program_listen(courier->program, false);
}

static void on_line(const char *line, size_t length, void *context)
{
    Courier *courier = context;
    g_auto(Talk) talk;

    talk_read(line, length, &talk);
    courier->odd = talk.type == TALK_BROKEN ? courier->odd + 1 : 0;
    if (courier->odd >= ODD_MOST)
        program_kill(courier->program, "writes lines that mean nothing");
    else if (courier->ready || talk.type == TALK_HELLO)
        hear(courier, &talk);
}

static void on_murmur(const char *line, size_t length, void *context)
{
    Courier *courier = context;

    murmur_add(courier->murmur, line, length);
}

static void on_late(void *context)
{
    Courier *courier = context;
    int64_t now = real_ms();

    if (!courier->ready) {
        program_kill(courier->program, "did not say hello");
        return;
    }
    courier->late += finish_until(courier, now, "the program gave no answer in time");
    if (courier->health_until_ms > 0 && courier->health_until_ms <= now) courier->late = LATE_MOST;
    if (courier->late >= LATE_MOST)
        program_kill(courier->program, "does not answer");
    else
        set_watch(courier);
}

/* --- its life --- */

static void on_ended(const char *why, void *context)
{
    Courier *courier = context;
    bool asked = courier->ending;
    bool was_steady = courier->ready && real_ms() - courier->ready_ms >= STEADY_MS;

    courier->program = NULL;
    courier->ready = courier->ending = courier->unwell_told = false;
    courier->health_until_ms = courier->unwell_ms = 0;
    murmur_end(courier->murmur);
    finish_until(courier, INT64_MAX, "the program ended before it answered");
    g_free(courier->problem);
    courier->problem = asked ? NULL : g_strdup(why);
    if (was_steady || asked) courier->failures = 0;
    courier->failures += !asked;
    int64_t rest_ms = asked ? 0 : REST_FIRST_MS;
    for (int i = 1; i < courier->failures && rest_ms < REST_MOST_MS; i++)
        rest_ms *= 2;
    timer_set(courier->timer, courier->wanted ? clock_now(desk_clock(courier->share.desk)) +
                                                    MIN(rest_ms, REST_MOST_MS)
                                              : CLOCK_NEVER);
    if (courier->failures == ILL_FAILURES)
        courier->share.ill(courier->name, courier->share.context);
    courier->share.turned(courier->share.context);
}

static char *command_of(const Gateway *gateway)
{
    return g_strjoinv("\n", (char **)gateway->command->pdata);
}

static void start(Courier *courier)
{
    const Gateway *gateway = gateway_of(courier);
    g_autofree char *why = NULL;
    const ProgramEars ears = {.line = on_line,
                              .murmur = on_murmur,
                              .late = on_late,
                              .ended = on_ended,
                              .context = courier};

    if (gateway == NULL) return;
    g_free(courier->command);
    courier->command = command_of(gateway);
    courier_intake_begin(courier->intake);
    courier->odd = 0;
    courier->program =
        program_start(courier->share.loop, (const char *const *)gateway->command->pdata,
                      courier->share.folder, &ears, &why);
    if (courier->program == NULL) {
        on_ended(why, courier);
        return;
    }
    g_autofree char *hello = talk_hello(courier->name);
    program_wait(courier->program, HELLO_MS);
    program_say(courier->program, hello);
}

static void ask_health(Courier *courier)
{
    g_autofree char *line = talk_health();

    courier->health_until_ms = real_ms() + answer_ms(courier);
    program_say(courier->program, line);
    set_watch(courier);
    timer_set(courier->timer, clock_now(desk_clock(courier->share.desk)) + health_every(courier));
}

static void on_timer(void *context)
{
    Courier *courier = context;

    if (courier->program == NULL && courier->wanted)
        start(courier);
    else if (courier->ready && !courier->ending)
        ask_health(courier);
}

/* Is it another program now? */
static bool has_changed(const Courier *courier)
{
    const Gateway *gateway = gateway_of(courier);

    if (gateway == NULL) return true;
    g_autofree char *command = command_of(gateway);
    return g_strcmp0(command, courier->command) != 0;
}

/* A program that was started while the clock is made up could write to real people. */
static bool may_run(const Courier *courier)
{
    return courier->share.loop != NULL && !clock_is_virtual(desk_clock(courier->share.desk)) &&
           gateway_of(courier) != NULL;
}

void courier_want(Courier *courier, bool runs)
{
    courier->wanted = runs && may_run(courier);
    if (courier->program == NULL) {
        if (courier->wanted && timer_at(courier->timer) == CLOCK_NEVER) start(courier);
        if (!courier->wanted) timer_set(courier->timer, CLOCK_NEVER);
        return;
    }
    if (courier->wanted && !has_changed(courier)) return;
    if (courier->ending || g_hash_table_size(courier->sends) > 0) return;
    courier->ending = true;
    program_stop(courier->program);
}

bool courier_is_ready(const Courier *courier)
{
    return courier->ready && !courier->ending && courier->wanted && courier->unwell_ms == 0;
}

bool courier_send(Courier *courier, const Outgoing *message, bool ask, CourierDone *done,
                  void *context)
{
    if (!courier_is_ready(courier) || g_hash_table_contains(courier->sends, message->id))
        return false;
    g_autofree char *line = ask ? talk_ask(message->id) : talk_send(message);
    Sending *sending = g_new0(Sending, 1);
    *sending =
        (Sending){.done = done, .context = context, .until_ms = real_ms() + answer_ms(courier)};
    if (!program_say(courier->program, line)) {
        g_free(sending);
        return false;
    }
    g_hash_table_insert(courier->sends, g_strdup(message->id), sending);
    set_watch(courier);
    return true;
}

int courier_busy(const Courier *courier)
{
    return courier->program != NULL && !courier->wanted ? 1 : 0;
}

Courier *courier_new(const CourierShare *share, const char *gateway)
{
    Courier *courier = g_new0(Courier, 1);

    courier->share = *share;
    courier->name = g_strdup(gateway);
    courier->timer = timer_new(desk_clock(share->desk), on_timer, courier);
    courier->murmur = murmur_new(share->desk, gateway);
    courier->intake = courier_intake_new(share->desk, gateway, on_taken, courier);
    courier->sends = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return courier;
}

void courier_free(Courier *courier)
{
    if (courier == NULL) return;
    if (courier->program != NULL) program_abandon(courier->program);
    timer_free(courier->timer);
    g_hash_table_unref(courier->sends);
    courier_intake_free(courier->intake);
    murmur_free(courier->murmur);
    g_free(courier->name);
    g_free(courier->command);
    g_free(courier->words);
    g_free(courier->problem);
    g_free(courier);
}

json_t *courier_json(const Courier *courier)
{
    const char *state = courier->program == NULL ? "resting"
                        : courier->ready         ? "ready"
                                                 : "starting";

    bool well = courier->unwell_ms == 0;
    const char *unwell = courier->words != NULL ? courier->words : "it says that it is not well";

    return json_pack("{s:s, s:b, s:s?, s:s?}", "state", state, "well", well, "words",
                     courier->words, "problem", well ? courier->problem : unwell);
}
