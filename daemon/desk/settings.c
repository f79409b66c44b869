/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/settings.h"

#include <string.h>

#include "adapters/files/clinic_file.h"
#include "adapters/files/packs.h"
#include "adapters/files/programmes.h"
#include "core/ledger/id.h"

struct Settings {
    gint refs;
    ClinicFolder *folder;
    GPtrArray *hashes; /* of text, beside the programmes */
};

Settings *settings_load(const char *dir, GPtrArray *messages)
{
    ClinicFolder *folder = clinic_folder_load(dir, messages);

    if (folder == NULL) return NULL;
    Settings *settings = g_new0(Settings, 1);
    settings->refs = 1;
    settings->folder = folder;
    settings->hashes = g_ptr_array_new_with_free_func(g_free);
    for (guint i = 0; i < folder->programmes->len; i++) {
        const ProgrammeFile *file = folder->programmes->pdata[i];
        g_ptr_array_add(settings->hashes, id_text(file->text));
    }
    return settings;
}

Settings *settings_ref(Settings *settings)
{
    g_atomic_int_inc(&settings->refs);
    return settings;
}

void settings_unref(Settings *settings)
{
    if (settings == NULL || !g_atomic_int_dec_and_test(&settings->refs)) return;
    clinic_folder_free(settings->folder);
    g_ptr_array_unref(settings->hashes);
    g_free(settings);
}

const Clinic *settings_clinic(const Settings *settings)
{
    return settings->folder->clinic;
}

const GPtrArray *settings_cautions(const Settings *settings)
{
    return settings->folder->cautions;
}

const Pack *settings_pack(const Settings *settings, const char *language)
{
    const Pack *pack = language != NULL ? packs_find(settings->folder->packs, language) : NULL;

    if (pack == NULL)
        pack = packs_find(settings->folder->packs, settings->folder->clinic->language);
    g_assert(pack != NULL);
    return pack;
}

bool settings_has_pack(const Settings *settings, const char *language)
{
    return packs_find(settings->folder->packs, language) != NULL;
}

GPtrArray *settings_packs(const Settings *settings, const char *first)
{
    GPtrArray *packs = g_ptr_array_new();
    const Pack *own = settings_pack(settings, first);

    g_ptr_array_add(packs, (gpointer)own);
    for (guint i = 0; i < settings->folder->packs->len; i++)
        if (settings->folder->packs->pdata[i] != own)
            g_ptr_array_add(packs, settings->folder->packs->pdata[i]);
    return packs;
}

guint settings_programmes(const Settings *settings)
{
    return settings->folder->programmes->len;
}

const Programme *settings_programme_at(const Settings *settings, guint number)
{
    return ((const ProgrammeFile *)settings->folder->programmes->pdata[number])->programme;
}

const Programme *settings_programme(const Settings *settings, const char *key)
{
    const ProgrammeFile *file = programmes_find(settings->folder->programmes, key);

    return file != NULL ? file->programme : NULL;
}

const Programme *settings_measuring(const Settings *settings, const char *key, const char *measure)
{
    const Programme *own = key != NULL ? settings_programme(settings, key) : NULL;

    if (own != NULL && programme_measure(own, measure) != NULL) return own;
    for (guint i = 0; i < settings->folder->programmes->len; i++) {
        const ProgrammeFile *file = settings->folder->programmes->pdata[i];
        if (programme_measure(file->programme, measure) != NULL) return file->programme;
    }
    return NULL;
}

const char *settings_programme_text(const Settings *settings, const char *key)
{
    const ProgrammeFile *file = programmes_find(settings->folder->programmes, key);

    return file != NULL ? file->text : NULL;
}

const char *settings_programme_hash(const Settings *settings, const char *key)
{
    for (guint i = 0; i < settings->folder->programmes->len; i++) {
        const ProgrammeFile *file = settings->folder->programmes->pdata[i];
        if (strcmp(file->programme->key, key) == 0) return settings->hashes->pdata[i];
    }
    return NULL;
}

const char *settings_secret(const char *name, void *settings)
{
    return secrets_get(((const Settings *)settings)->folder->secrets, name);
}

char *settings_fill_secret(const Settings *settings, const char *text)
{
    const char *open = strstr(text, "{secret:");
    const char *close = open != NULL ? strchr(open, '}') : NULL;

    if (close == NULL) return g_strdup(text);
    g_autofree char *name =
        g_strndup(open + strlen("{secret:"), (gsize)(close - open) - strlen("{secret:"));
    const char *secret = secrets_get(settings->folder->secrets, name);
    return g_strdup_printf("%.*s%s%s", (int)(open - text), text, secret != NULL ? secret : "",
                           close + 1);
}
