/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/clinic_file.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/files/complaint.h"
#include "adapters/files/packs.h"
#include "adapters/files/programmes.h"
#include "adapters/files/tree.h"
#include "adapters/files/zones.h"
#include "core/clinic/caution.h"
#include "core/clinic/template.h"

/* What the settings ask of the world around them. */
typedef struct {
    Faults *faults;
    const Secrets *secrets;
    const char *dir;
    const GPtrArray *others; /* lines about the folder's other files */
} Check;

/* "/gateways/texts/send/headers/Authorization" */
static bool is_of_header(const char *pointer)
{
    const char *last = strrchr(pointer, '/');

    return last != NULL && last - pointer >= (ptrdiff_t)strlen("/headers") &&
           strncmp(last - strlen("/headers"), "/headers", strlen("/headers")) == 0;
}

static void check_text(const Check *check, const char *pointer, const char *text)
{
    const char *at = text;

    for (;;) {
        g_autofree char *found = template_next(&at, NULL);
        if (found == NULL) return;
        const char *name = template_secret(found);
        g_autofree char *written = g_strdup_printf("{%s}", found);
        if (name == NULL || !secret_name_valid(name)) continue;
        const char *secret = secrets_get(check->secrets, name);
        if (secret != NULL && (strpbrk(secret, "\r\n") == NULL || !is_of_header(pointer))) continue;
        if (secret != NULL)
            fault_add(
                check->faults, pointer, written,
                "holds a line break, with which the header is refused: every message would wait");
        else if (secrets_is_unfit(check->secrets, name))
            fault_add(check->faults, pointer, written,
                      "cannot be used: the line about secrets says why");
        else
            fault_add(check->faults, pointer, written,
                      "there is no such secret; write it into %s/secrets/%s, mode 0600", check->dir,
                      name);
    }
}

static void check_secrets(const Check *check, const char *pointer, json_t *value)
{
    const char *key;
    size_t index;
    json_t *item;

    if (json_is_string(value)) check_text(check, pointer, json_string_value(value));
    json_object_foreach(value, key, item)
    {
        g_autofree char *place = fault_pointer(pointer, key);
        check_secrets(check, place, item);
    }
    json_array_foreach(value, index, item)
    {
        g_autofree char *place = fault_pointer_item(pointer, index);
        check_secrets(check, place, item);
    }
}

static void check_zone(const Check *check, const char *name)
{
    GTimeZone *zone = name != NULL ? zone_load(name) : NULL;

    if (zone != NULL) g_time_zone_unref(zone);
    if (zone == NULL && name != NULL)
        fault_add(
            check->faults, "/clinic/zone", name,
            "is no zone of this machine's zone database; write an IANA name such as Europe/London");
}

/* Has the language's pack had lines of its own already? */
static bool is_blamed(const Check *check, const char *language)
{
    g_autofree char *file = g_strdup_printf("/languages/%s.yaml:", language);

    for (guint i = 0; i < check->others->len; i++)
        if (strstr(check->others->pdata[i], file) != NULL) return true;
    return false;
}

static void check_language(const Check *check, const char *language, const GPtrArray *packs)
{
    GString *known = g_string_new(NULL);

    for (guint i = 0; i < packs->len; i++)
        g_string_append_printf(known, "%s%s", i > 0 ? ", " : "", pack_language(packs->pdata[i]));
    if (packs_find(packs, language) == NULL && !is_blamed(check, language))
        fault_add(check->faults, "/clinic/language", language,
                  "has no language pack; there are: %s", known->str);
    g_string_free(known, TRUE);
}

/* A program that cannot be started is told before a message waits for it. */
static void look_at_program(const char *dir, json_t *root, const Gateway *gateway, Faults *cautions)
{
    const char *named = gateway->command->pdata[0];
    g_autofree char *path =
        g_path_is_absolute(named) ? g_strdup(named) : g_build_filename(dir, named, NULL);
    g_autofree char *place = fault_pointer("/gateways", gateway->name);
    g_autofree char *command = fault_pointer(place, "command");
    g_autofree char *first = fault_pointer_item(command, 0);
    json_t *gateways = json_object_get(root, "gateways");
    json_t *words = json_object_get(json_object_get(gateways, gateway->name), "command");
    const char *at = json_is_array(words) ? first : command;

    if (!g_file_test(path, G_FILE_TEST_IS_REGULAR))
        fault_add(cautions, at, named,
                  "there is no such program, and nothing is sent by it; put it at %s", path);
    else if (access(path, X_OK) != 0)
        fault_add(cautions, at, named, "may not be run, and nothing is sent by it; chmod +x %s",
                  path);
}

static void look_at_programs(const char *dir, json_t *root, const Clinic *clinic, Faults *cautions)
{
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->kind == GATEWAY_PROGRAM) look_at_program(dir, root, gateway, cautions);
    }
}

/* The settings' own faults and those of what they refer to, in the order of the file. */
static Clinic *load_settings(const char *dir, const ClinicFolder *folder, const GPtrArray *others,
                             GPtrArray *messages)
{
    g_autofree char *path = g_build_filename(dir, "clinic.yaml", NULL);

    if (access(path, F_OK) != 0) {
        complaint_add(messages, path, 1, 1, NULL,
                      "%s; name the clinic's folder with --clinic, or make one: osier init DIR",
                      g_strerror(errno));
        return NULL;
    }
    g_autoptr(Tree) tree = tree_load(path, messages);

    if (tree == NULL) return NULL;
    g_autoptr(Faults) faults = tree_faults_new(tree);
    json_t *root = tree_root(tree);
    json_t *profile = json_object_get(root, "clinic");
    Check check = {faults, folder->secrets, dir, others};
    g_autoptr(Clinic) clinic = clinic_read(root, faults);
    check_secrets(&check, "", root);
    if (clinic != NULL) {
        check_zone(&check, clinic->zone);
        check_language(&check, clinic->language, folder->packs);
    } else {
        /* What the settings do not say right is not said twice. */
        const char *zone = json_string_value(json_object_get(profile, "zone"));
        const char *language = json_string_value(json_object_get(profile, "language"));
        if (zone != NULL && !faults_hold(faults, "/clinic/zone")) check_zone(&check, zone);
        if (language != NULL && !faults_hold(faults, "/clinic/language"))
            check_language(&check, language, folder->packs);
    }
    tree_faults(tree, faults, messages);
    if (clinic != NULL) {
        g_autoptr(Faults) cautions = tree_faults_new(tree);
        clinic_cautions(clinic, root, cautions);
        look_at_programs(dir, root, clinic, cautions);
        tree_faults(tree, cautions, folder->cautions);
    }
    return faults->items->len == 0 ? g_steal_pointer(&clinic) : NULL;
}

/* Where other users may enter the folder, each file of the record that they may read or write is told. osierd makes all of them
 * without that: somebody changed it since, or copied them here. */
static void look_at_modes(const char *dir, GPtrArray *cautions)
{
    static const char *const RECORD[] = {".", "store.db", "store.db-wal", "erased.jsonl",
                                         "backups"};
    enum { OTHERS_IN = 01, OTHERS_READ_OR_WRITE = 06, OTHERS_WRITE = 02 };
    struct stat about;

    if (stat(dir, &about) != 0 || (about.st_mode & OTHERS_IN) == 0) return;
    for (size_t i = 0; i < G_N_ELEMENTS(RECORD); i++) {
        g_autofree char *path = i == 0 ? g_strdup(dir) : g_build_filename(dir, RECORD[i], NULL);
        if (stat(path, &about) != 0) continue;
        if ((about.st_mode & (i == 0 ? OTHERS_WRITE : OTHERS_READ_OR_WRITE)) == 0) continue;
        g_autofree char *mode = g_strdup_printf("mode %04o", (unsigned)(about.st_mode & 07777));
        complaint_add(cautions, path, 1, 1, mode,
                      "other users of this machine can get at the record; chmod o-rwx %s", path);
    }
}

ClinicFolder *clinic_folder_load(const char *dir, GPtrArray *messages)
{
    guint before = messages->len;
    g_autoptr(ClinicFolder) folder = g_new0(ClinicFolder, 1);
    g_autoptr(GPtrArray) others = g_ptr_array_new_with_free_func(g_free);

    folder->cautions = g_ptr_array_new_with_free_func(g_free);
    folder->secrets = secrets_load(dir, others);
    folder->packs = packs_load(dir, others);
    folder->programmes = programmes_load(dir, others);
    folder->clinic = load_settings(dir, folder, others, messages);
    look_at_modes(dir, folder->cautions);
    g_ptr_array_extend_and_steal(messages, g_steal_pointer(&others));
    return messages->len == before && folder->clinic != NULL ? g_steal_pointer(&folder) : NULL;
}

void clinic_folder_free(ClinicFolder *folder)
{
    if (folder == NULL) return;
    clinic_free(folder->clinic);
    g_clear_pointer(&folder->packs, g_ptr_array_unref);
    g_clear_pointer(&folder->programmes, g_ptr_array_unref);
    secrets_free(folder->secrets);
    g_clear_pointer(&folder->cautions, g_ptr_array_unref);
    g_free(folder);
}
