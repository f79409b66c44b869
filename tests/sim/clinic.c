/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/clinic.h"

#include <string.h>

#include "adapters/mail/compose.h"
#include "adapters/net/net_memory.h"
#include "adapters/serve/serve_memory.h"
#include "daemon/control/control.h"
#include "tests/support/folder.h"

/* More turns than any honest work takes. */
#define TURNS_MOST 20000

static const char SETTINGS[] =
    "clinic:\n"
    "  name: Saltmarsh Lane Physiotherapy\n"
    "  zone: %s\n"
    "  language: en\n"
    "  phone: \"" SIM_PHONE "\"\n"
    "  after_hours_phone: \"+442079460199\"\n"
    "  emergency: \"999\"\n"
    "  crisis: \"+442079460116\"\n"
    "  country_code: \"44\"\n"
    "  hours: {mon-fri: \"08:30-17:30\"}\n"
    "  closed: [2026-12-25]\n"
    "  quiet: %s\n"
    "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
    "duty:\n"
    "  - {name: R. Okafor, sms: \"" SIM_OKAFOR "\", email: rok@clinic.example}\n"
    "  - {name: J. Lindqvist, sms: \"" SIM_LINDQVIST "\", after: 15min}\n"
    "again: 30min\n"
    "limits: {pain_now: 7, pain_today: 4, missed_run: 3, intensity_high: 7, per_day_max: 4}\n"
    "reminders: {ends: 3h, nudge_after: 4h, silent_after: 20h}\n"
    "page: {listen: \"127.0.0.1:8750\"}\n"
    "hooks: {listen: \"127.0.0.1:8751\"}\n"
    "gateways:\n"
    "  texts:\n"
    "    kind: http-sms\n"
    "    rate: %s\n"
    "    price: 0.04\n"
    "    takes_key: %s\n"
    "    send:\n"
    "      url: https://gateway.example/v1/messages\n"
    "      method: POST\n"
    "      headers: {Authorization: \"Bearer {secret:texts.key}\", Idempotency-Key: \"{id}\"}\n"
    "      json: {to: \"{to}\", text: \"{text}\", ref: \"{id}\"}\n"
    "      accepted: {status: [200, 201, 202], id: /message/id}\n"
    "      refused: {status: [400, 404, 422], reason: /error}\n"
    "    poll: {url: \"https://gateway.example/v1/inbox?after={cursor}\", every: %s,\n"
    "           items: /messages, id: /id, from: /from, text: /text, at: /at, cursor: /next}\n"
    "    webhook: {path: /in/texts, id: /id, from: /from, text: /text, at: /at,\n"
    "              signature: {scheme: token, header: X-Token, secret: \"{secret:texts.hook}\"}}\n"
    "    receipts: {webhook: {path: /receipts/texts, id: /id, status: /status,\n"
    "                         delivered: [delivered], failed: [failed, expired],\n"
    "                         signature: {scheme: token, header: X-Token,\n"
    "                                     secret: \"{secret:texts.hook}\"}}}\n"
    "  mail:\n"
    "    kind: mail\n"
    "    from: \"Saltmarsh Lane <sessions@clinic.example>\"\n"
    "    smtp: {url: \"smtps://mail.example:465\", user: sessions, password: "
    "\"{secret:mail.key}\"}\n";

static void write_folder(SimClinic *clinic, const SimSetup *setup)
{
    const char *zone = setup->zone != NULL ? setup->zone : "Europe/London";
    const char *quiet = setup->quiet != NULL ? setup->quiet : "21:00-08:00";
    const char *rate = setup->rate != NULL ? setup->rate : "5/s";
    const char *every = setup->poll_every != NULL ? setup->poll_every : "10min";
    g_autofree char *text =
        g_strdup_printf(SETTINGS, zone, quiet, rate, setup->takes_key ? "true" : "false", every);

    clinic->folder = folder_new();
    folder_write(clinic->folder, "clinic.yaml", text, -1, 0600);
    folder_room(clinic->folder, "secrets");
    folder_write(clinic->folder, "secrets/texts.key", "key-for-tests\n", -1, 0600);
    folder_write(clinic->folder, "secrets/texts.hook", "token-for-tests\n", -1, 0600);
    folder_write(clinic->folder, "secrets/mail.key", "mail-for-tests\n", -1, 0600);
}

SimClinic *sim_clinic_new(const SimSetup *setup)
{
    SimClinic *clinic = g_new0(SimClinic, 1);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *replica =
        g_strdup_printf("%016" G_GINT64_MODIFIER "x", setup->seed ^ G_GUINT64_CONSTANT(0x51a));

    mail_start();
    write_folder(clinic, setup);
    clinic->settings = settings_load(clinic->folder, messages);
    for (guint i = 0; clinic->settings == NULL && i < messages->len; i++)
        g_printerr("%s\n", (const char *)messages->pdata[i]);
    g_assert(clinic->settings != NULL);
    clinic->trace = trace_new(setup->seed);
    clinic->random = random_seeded_new(setup->seed);
    clinic->standin = standin_new(clinic->trace, clinic->random, setup->takes_key);
    clinic->device = device_new(replica, setup->start_ms, setup->far);
    clinic->clock = clock_stepped_new(setup->start_ms);
    trace_step(clinic->trace, setup->start_ms);
    return clinic;
}

int64_t sim_now(const SimClinic *clinic)
{
    return clock_now(clinic->clock);
}

/* --- the daemon's lives --- */

static void on_failed(StoreStatus status, const char *problem, void *context)
{
    SimClinic *clinic = context;

    (void)status;
    if (!device_is_cut(clinic->device))
        trace_break(clinic->trace, "the store does not fail by itself", "%s", problem);
}

static int64_t wall(void *context)
{
    return clock_now(((SimClinic *)context)->clock);
}

void sim_start(SimClinic *clinic)
{
    const ServeLimits limits = {.body_max = 1024 * 1024, .connections_max = 512};

    g_assert(clinic->daemon == NULL);
    clinic->lives++;
    trace_note(clinic->trace, "osierd starts, the %d. time", clinic->lives);
    /* Another life draws other numbers, as a restarted daemon would. */
    clinic->chance =
        random_seeded_new((uint64_t)clinic->lives * 7919 + random_number(clinic->random, "life"));
    clinic->net = net_memory_new(&(NetMemoryOptions){.answer = standin_answer,
                                                     .context = clinic->standin,
                                                     .wall_ms = wall,
                                                     .wall_context = clinic});
    clinic->daemon = daemon_new(&(DaemonPorts){.clock = clinic->clock,
                                               .random = clinic->chance,
                                               .store = device_port(clinic->device),
                                               .net = clinic->net,
                                               .dir = clinic->folder},
                                clinic->settings, on_failed, clinic);
    clinic->control = serve_memory_new(&limits, control_handle, clinic->daemon);
    clinic->hooks = serve_memory_new(&limits, intake_hook, daemon_intake(clinic->daemon));
    daemon_start(clinic->daemon);
    sim_settle(clinic);
}

/* Lets go of everything that one life held. The store's port must be idle or cut. */
static void bury(SimClinic *clinic)
{
    clinic->net->close(clinic->net);
    while (device_is_cut(clinic->device) && device_drain(clinic->device) > 0)
        continue;
    clinic->control->close(clinic->control);
    clinic->hooks->close(clinic->hooks);
    daemon_free(clinic->daemon);
    random_free(clinic->chance);
    clinic->net = NULL;
    clinic->control = clinic->hooks = NULL;
    clinic->daemon = NULL;
    clinic->chance = NULL;
}

void sim_stop(SimClinic *clinic)
{
    if (clinic->daemon == NULL) return;
    trace_note(clinic->trace, "osierd is told to stop");
    daemon_stop(clinic->daemon);
    sim_settle(clinic);
    if (clinic->daemon == NULL) return; /* cut off while stopping */
    const char *what;
    if (daemon_holds(clinic->daemon, &what) > 0) {
        sim_cut(clinic, CUT_BEFORE, false); /* no patience is left */
        return;
    }
    bury(clinic);
}

void sim_cut(SimClinic *clinic, Cut cut, bool sent)
{
    if (clinic->daemon == NULL) return;
    trace_note(clinic->trace, "the power goes%s%s", cut == CUT_AFTER ? " after a commit" : "",
               sent ? ", with requests under way" : "");
    device_cut(clinic->device, cut);
    if (sent) net_memory_pump(clinic->net);
    daemon_stop(clinic->daemon);
    while (device_drain(clinic->device) > 0)
        continue;
    bury(clinic);
    device_revive(clinic->device);
}

void sim_clinic_free(SimClinic *clinic)
{
    if (clinic == NULL) return;
    clinic->turn = clinic->quiet = NULL;
    standin_watch(clinic->standin, NULL, NULL, NULL);
    sim_cut(clinic, CUT_BEFORE, false);
    device_free(clinic->device);
    clock_free(clinic->clock);
    standin_free(clinic->standin);
    settings_unref(clinic->settings);
    random_free(clinic->random);
    trace_free(clinic->trace);
    folder_remove(clinic->folder);
    g_free(clinic);
}

/* --- time --- */

/* In slow weather minutes pass while an exchange is under way, and timers fire meanwhile. */
static void let_time_pass(SimClinic *clinic)
{
    if (standin_weather(clinic->standin) != WEATHER_SLOW) return;
    if (clinic->net->in_flight(clinic->net) == 0) return;
    int64_t wait_s = 1 + (int64_t)random_below(clinic->random, "slow", 150);
    clock_move(clinic->clock, sim_now(clinic) + wait_s * 1000);
    trace_step(clinic->trace, sim_now(clinic));
    clock_fire(clinic->clock);
}

void sim_settle(SimClinic *clinic)
{
    const char *what = "";

    for (int turn = 0; clinic->daemon != NULL && !trace_broken(clinic->trace); turn++) {
        if (clinic->turn != NULL) clinic->turn(clinic, clinic->turn_context);
        if (clinic->daemon == NULL) return;
        int done = device_pump(clinic->device);
        let_time_pass(clinic);
        done += net_memory_pump(clinic->net);
        if (done > 0 && turn < TURNS_MOST) continue;
        if (daemon_holds(clinic->daemon, &what) > 0 || done > 0)
            trace_break(clinic->trace, "an idle daemon is quiet: nothing holds the clock", "%s",
                        what);
        break;
    }
    if (clinic->quiet != NULL && clinic->daemon != NULL && !trace_broken(clinic->trace))
        clinic->quiet(clinic, clinic->quiet_context);
}

/* Many things may be due at one instant, but not without end. */
#define AT_ONE_INSTANT_MOST 2000

void sim_to(SimClinic *clinic, int64_t to_ms)
{
    int at_once = 0;

    while (!trace_broken(clinic->trace)) {
        int64_t next = clinic->daemon != NULL ? clock_next(clinic->clock) : CLOCK_NEVER;
        if (next > to_ms) break;
        at_once = next <= sim_now(clinic) ? at_once + 1 : 0;
        if (at_once > AT_ONE_INSTANT_MOST)
            trace_break(clinic->trace, "time goes on", "timers are set to now without end");
        if (next > sim_now(clinic)) clock_move(clinic->clock, next);
        trace_step(clinic->trace, sim_now(clinic));
        clock_fire(clinic->clock);
        sim_settle(clinic);
    }
    if (to_ms > sim_now(clinic)) clock_move(clinic->clock, to_ms);
    trace_step(clinic->trace, sim_now(clinic));
}

/* --- calls and webhooks --- */

/* Lives on where the answer comes later than anybody waits for it: a rule broke meanwhile. */
typedef struct {
    int status;
    json_t *answer;
    bool answered;
    bool left; /* nobody waits */
} Wait;

static void on_call(const ServeMemoryAnswer *answer, void *context)
{
    Wait *wait = context;
    gsize length;
    const char *bytes = g_bytes_get_data(answer->body, &length);

    if (wait->left) {
        g_free(wait);
        return;
    }
    wait->answered = true;
    wait->status = answer->status;
    wait->answer = length > 0 ? json_loadb(bytes, length, JSON_DECODE_ANY, NULL) : NULL;
}

json_t *sim_call(SimClinic *clinic, const char *method, const char *path, json_t *body, int *status)
{
    g_autofree char *text = body != NULL ? json_dumps(body, JSON_COMPACT) : g_strdup("");
    int life = clinic->lives;
    json_t *answer = NULL;

    *status = 0;
    json_decref(body);
    if (clinic->daemon == NULL) return NULL;
    Wait *wait = g_new0(Wait, 1);
    serve_memory_request(clinic->control, method, path, NULL, text, strlen(text), on_call, wait);
    sim_settle(clinic);
    bool same_life = clinic->daemon != NULL && clinic->lives == life;
    if (!wait->answered && same_life)
        trace_break(clinic->trace, "every call is answered", "%s %s", method, path);
    if (!wait->answered) {
        wait->left = true;
        return NULL;
    }
    if (same_life) {
        *status = wait->status;
        answer = g_steal_pointer(&wait->answer);
    }
    json_decref(wait->answer);
    g_free(wait);
    return answer;
}

typedef struct {
    SimClinic *clinic;
    SimHeard *heard;
    void *context;
} HookWait;

static void on_hook(const ServeMemoryAnswer *answer, void *context)
{
    HookWait *wait = context;
    bool lost = device_is_cut(wait->clinic->device);

    wait->heard(lost ? 0 : answer->status, wait->context);
    g_free(wait);
}

void sim_hook(SimClinic *clinic, const char *path, const char *json, SimHeard *heard, void *context)
{
    static const char *const HEADERS[] = {"X-Token: token-for-tests",
                                          "Content-Type: application/json", NULL};
    HookWait *wait = g_new0(HookWait, 1);

    *wait = (HookWait){.clinic = clinic, .heard = heard, .context = context};
    if (clinic->daemon == NULL) {
        heard(0, context);
        g_free(wait);
        return;
    }
    serve_memory_request(clinic->hooks, "POST", path, HEADERS, json, strlen(json), on_hook, wait);
}

void sim_set_clock(SimClinic *clinic, int64_t to_ms)
{
    int64_t from_ms = sim_now(clinic);

    clinic->jumps++;
    trace_note(clinic->trace, "the clock is set by %" G_GINT64_FORMAT " s",
               (to_ms - from_ms) / 1000);
    if (clinic->daemon != NULL) {
        g_assert(to_ms >= from_ms);
        clock_move(clinic->clock, to_ms);
        trace_step(clinic->trace, to_ms);
        daemon_clock_jumped(clinic->daemon, from_ms, to_ms);
        clock_fire(clinic->clock);
        sim_settle(clinic);
        return;
    }
    clock_free(clinic->clock);
    clinic->clock = clock_stepped_new(to_ms);
    trace_step(clinic->trace, to_ms);
}
