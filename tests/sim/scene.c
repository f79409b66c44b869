/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/scene.h"

#include <string.h>

enum { SEEDS = 3 };

static void on_written(const Written *written, void *context)
{
    Scene *scene = context;
    Sent sent;

    if (!oracle_written(scene->oracle, written, &sent)) return;
    GPtrArray *list = written->made == MADE_ACCEPTED  ? scene->sent
                      : written->made == MADE_REFUSED ? scene->refused
                                                      : NULL;
    if (list != NULL)
        g_ptr_array_add(list, g_strdup_printf("%s %s %s", written->to, sent.kind, sent.text));
    sent_clear(&sent);
}

int64_t scene_instant(const char *text)
{
    int64_t ms = 0;

    g_assert_true(instant_parse(text, &ms));
    return ms;
}

char *scene_call(Scene *scene, json_t *body, const char *field, const char *path, ...)
{
    int status;
    va_list list;

    va_start(list, path);
    g_autofree char *filled = g_strdup_vprintf(path, list);
    va_end(list);
    json_t *answer = sim_call(scene->clinic, body != NULL ? "POST" : "GET", filled, body, &status);
    if (status != 200) g_error("%s: %d: %s", filled, status, json_dumps(answer, 0));
    const json_t *from = json_is_array(answer) ? json_array_get(answer, 0) : answer;
    char *value = g_strdup(json_string_value(json_object_get(from, field)));
    json_decref(answer);
    return value;
}

char *scene_enrol(Scene *scene, const char *phone, const char *at)
{
    char *id = scene_call(scene,
                          json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada Marsh", "zone",
                                    "Europe/London", "language", "en", "channel", "sms", "phone",
                                    phone, "consent", "sms: signed form, R. Okafor, 2026-03-01"),
                          "client", "/clients");

    g_free(scene_call(scene,
                      json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1),
                      "x", "/clients/%s/screen", id));
    g_free(scene_call(scene,
                      json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", at,
                                "stage", "calf-with-strap"),
                      "x", "/clients/%s/plan", id));
    return id;
}

void scene_to(Scene *scene, const char *when)
{
    sim_to(scene->clinic, scene_instant(when));
    sim_settle(scene->clinic);
    g_assert_false(trace_broken(scene->clinic->trace));
}

/* Ada is enrolled on Monday at eight, for 08:30 each day. */
static Scene scene_open(uint64_t seed, bool takes_key, const char *rate)
{
    Scene scene = {.sent = g_ptr_array_new_with_free_func(g_free),
                   .refused = g_ptr_array_new_with_free_func(g_free)};
    SimSetup setup = {.seed = seed,
                      .start_ms = scene_instant("2026-03-02T08:00:00Z"),
                      .rate = rate,
                      .takes_key = takes_key};

    scene.clinic = sim_clinic_new(&setup);
    scene.oracle = oracle_new(scene.clinic, takes_key);
    return scene;
}

void scene_begin(Scene *scene)
{
    standin_watch(scene->clinic->standin, on_written, NULL, scene);
    sim_start(scene->clinic);
    scene->ada = scene_enrol(scene, ADA, "08:30");
}

static void scene_close(Scene *scene)
{
    oracle_compare(scene->oracle);
    g_assert_false(trace_broken(scene->clinic->trace));
    sim_stop(scene->clinic);
    oracle_free(scene->oracle);
    sim_clinic_free(scene->clinic);
    g_ptr_array_unref(scene->sent);
    g_ptr_array_unref(scene->refused);
    g_free(scene->ada);
}

int scene_sent(const Scene *scene, const char *number, const char *kind)
{
    g_autofree char *begin = g_strdup_printf("%s %s", number, kind);
    int n = 0;

    for (guint i = 0; i < scene->sent->len; i++)
        n += g_str_has_prefix(scene->sent->pdata[i], begin);
    return n;
}

static void no_matter(int status, void *context)
{
    *(int *)context = status;
}

void scene_put(Scene *scene, const char *from, const char *text, int *status)
{
    static int count;
    g_autofree char *id = g_strdup_printf("said%d", ++count);
    json_t *item = json_pack("{s:s, s:s, s:s}", "id", id, "from", from, "text", text);
    char *json = json_dumps(item, 0);

    oracle_said(scene->oracle, id, id, from, text);
    sim_hook(scene->clinic, "/in/texts", json, no_matter, status);
    free(json);
    json_decref(item);
}

void scene_say(Scene *scene, const char *from, const char *text)
{
    int status = 0;

    scene_put(scene, from, text, &status);
    sim_settle(scene->clinic);
    g_assert_cmpint(status, ==, 200);
}

void scene_session_is(Scene *scene, const char *client, const char *date, const char *state)
{
    g_autofree char *is =
        scene_call(scene, NULL, "state", "/clients/%s/sessions?from=%s&days=1", client, date);

    g_assert_cmpstr(is, ==, state);
}

void scene_over_seeds_at(const char *rate, SceneAct *act)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        Scene scene = scene_open(seed, seed % 2 == 0, rate);
        act(&scene);
        if (trace_broken(scene.clinic->trace)) g_error("seed %d", (int)seed);
        scene_close(&scene);
    }
}

void scene_over_seeds(SceneAct *act)
{
    scene_over_seeds_at(NULL, act);
}
