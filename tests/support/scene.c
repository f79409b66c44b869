/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/scene.h"

#include "adapters/store/store_memory.h"
#include "core/calendar/date.h"
#include "tests/support/folder.h"

struct Scene {
    char *folder;
    Settings *settings;
    Zones *zones;
    People *people;
    Random *random;
    Store *store;
    int64_t now_ms;
    bool silent;
    JobRun *run;
    void *context;
    bool kept;
};

static char *settings_with(const char *more)
{
    return g_strdup_printf("clinic:\n"
                           "  name: Alder Row Physiotherapy\n"
                           "  zone: Europe/London\n"
                           "  language: en\n"
                           "  phone: \"+442079460100\"\n"
                           "  emergency: \"999\"\n"
                           "  country_code: \"44\"\n"
                           "  hours: {mon-fri: \"08:30-17:30\"}\n"
                           "  quiet: \"21:00-08:00\"\n"
                           "  digest: {day: sunday, at: \"20:00\", to: [desk@clinic.example]}\n"
                           "%s"
                           "duty:\n"
                           "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
                           "gateways:\n"
                           "  spool: {kind: spool}\n",
                           more);
}

static int64_t ms_of(const char *instant)
{
    int64_t ms;

    g_assert(instant_parse(instant, &ms));
    return ms;
}

Scene *scene_new(const char *more, const char *instant)
{
    Scene *scene = g_new0(Scene, 1);
    g_autoptr(GPtrArray) faults = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *text = settings_with(more);

    scene->folder = folder_new();
    folder_write(scene->folder, "clinic.yaml", text, -1, 0600);
    scene->settings = settings_load(scene->folder, faults);
    for (guint i = 0; i < faults->len; i++)
        g_printerr("%s\n", (const char *)faults->pdata[i]);
    g_assert(scene->settings != NULL);
    scene->zones = zones_new();
    scene->people = people_new();
    scene->random = random_seeded_new(1);
    scene->store = store_memory_new("00000000000000a1", ms_of(instant));
    return scene;
}

void scene_free(Scene *scene)
{
    scene->store->close(scene->store);
    people_free(scene->people);
    zones_free(scene->zones);
    random_free(scene->random);
    settings_unref(scene->settings);
    folder_remove(scene->folder);
    g_free(scene);
}

static bool run_inside(Tx *tx, void *context)
{
    Scene *scene = context;
    Job job = {.tx = tx,
               .settings = scene->settings,
               .clinic = settings_clinic(scene->settings),
               .zones = scene->zones,
               .people = scene->people,
               .random = scene->random,
               .now_ms = scene->now_ms,
               .sender = !scene->silent};

    people_begin(scene->people, 1);
    return scene->run(&job, scene->context);
}

static void note(StoreStatus status, void *context)
{
    ((Scene *)context)->kept = status == STORE_OK;
}

void scene_at(Scene *scene, const char *instant, JobRun *run, void *context)
{
    scene->now_ms = ms_of(instant);
    scene->run = run;
    scene->context = context;
    scene->kept = false;
    store_submit(scene->store, scene->now_ms, run_inside, note, scene);
    store_memory_pump(scene->store);
    g_assert(scene->kept);
}

void scene_sends(Scene *scene, bool sends)
{
    scene->silent = !sends;
}

char *scene_call(Job *job, CallHandler *handler, const char *id, json_t *body)
{
    Call call = {.id = {g_strdup(id), NULL}, .body = body};

    if (!handler(job, &call)) g_error("%s", json_dumps(call.answer, 0));
    char *made =
        id == NULL ? g_strdup(json_string_value(json_object_get(call.answer, "client"))) : NULL;
    json_decref(call.answer);
    json_decref(body);
    g_free(call.about);
    g_free(call.id[0]);
    return made;
}
