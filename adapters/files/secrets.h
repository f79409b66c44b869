/* SPDX-License-Identifier: Apache-2.0 */
/* Keys and passwords that the settings name by {secret:NAME}: files in the clinic's secrets/ folder, or credentials that
 * the service manager passes ($CREDENTIALS_DIRECTORY/NAME), which come first. */
#ifndef OSIER_ADAPTERS_FILES_SECRETS_H
#define OSIER_ADAPTERS_FILES_SECRETS_H

#include <glib.h>
#include <stdbool.h>

typedef struct Secrets Secrets;

/* Opens the folder CLINIC/secrets. Adds a line for each thing that is loose: a folder open to others (mode 0700 is
 * wanted), a file that others can read (0600), one of another owner, one that is no regular file, a name that is none. An
 * absent folder holds no secrets. Never NULL; whether anything was wrong shows in messages. */
Secrets *secrets_load(const char *clinic_dir, GPtrArray *messages);

/* The secret without one trailing newline; lent until secrets_free. NULL where there is none. */
const char *secrets_get(const Secrets *secrets, const char *name);

/* Is there a file of that name, or a folder for it, which could not be used? A line of secrets_load says why: that it is not
 * there would be untrue. */
bool secrets_is_unfit(const Secrets *secrets, const char *name);

/* Wipes and frees. */
void secrets_free(Secrets *secrets);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Secrets, secrets_free)

#endif
