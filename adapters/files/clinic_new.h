/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's folder, made anew from the commented settings that come with osier. */
#ifndef OSIER_ADAPTERS_FILES_CLINIC_NEW_H
#define OSIER_ADAPTERS_FILES_CLINIC_NEW_H

#include <glib.h>
#include <stdbool.h>

/* Makes dir (its parent must be there) with clinic.yaml, programmes/, languages/, secrets/ and spool/, for its owner only.
 * A folder that is there already must not hold any of these. False, with what and why to be freed by the caller: the path
 * that could not be made and the reason. What was made before a failure is left. */
bool clinic_folder_make(const char *dir, char **what, char **why);

#endif
