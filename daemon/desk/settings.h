/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic folder as read, shared by the loop and the store thread: immutable, counted, swapped
 * whole on SIGHUP. */
#ifndef OSIER_DAEMON_DESK_SETTINGS_H
#define OSIER_DAEMON_DESK_SETTINGS_H

#include "core/clinic/clinic.h"
#include "core/practice/programme.h"
#include "core/talk/pack.h"

typedef struct Settings Settings;

/* Reads the folder; NULL with every fault as a line in messages. */
Settings *settings_load(const char *dir, GPtrArray *messages);
Settings *settings_ref(Settings *settings);
void settings_unref(Settings *settings);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Settings, settings_unref)

const Clinic *settings_clinic(const Settings *settings);

/* Lines about what is not wrong, but leaves somebody unheard; lent. */
const GPtrArray *settings_cautions(const Settings *settings);

/* The pack of a language, else that of the clinic's language. Never NULL. */
const Pack *settings_pack(const Settings *settings, const char *language);

bool settings_has_pack(const Settings *settings, const char *language);

/* All packs with that language's first; the array is the caller's to g_ptr_array_unref, the packs
 * are lent. */
GPtrArray *settings_packs(const Settings *settings, const char *first);

/* All programmes, in the order of their files. */
guint settings_programmes(const Settings *settings);
const Programme *settings_programme_at(const Settings *settings, guint number);

/* The programme of that key, or NULL; and its text and the text's hash. */
const Programme *settings_programme(const Settings *settings, const char *key);
const char *settings_programme_text(const Settings *settings, const char *key);
const char *settings_programme_hash(const Settings *settings, const char *key);

/* The programme that a measure is read by: the one of that key where it has it, else the first that
 * has it. NULL: none has. key may be NULL. */
const Programme *settings_measuring(const Settings *settings, const char *key, const char *measure);

/* A secret by name, in the form that translators ask for (context is the Settings). */
const char *settings_secret(const char *name, void *settings);

/* A text with its one {secret:NAME} filled (g_free). */
char *settings_fill_secret(const Settings *settings, const char *text);

#endif
