/* SPDX-License-Identifier: Apache-2.0 */
/* Files that come with osier, and a clinic's own over them. */
#ifndef OSIER_ADAPTERS_FILES_OVERLAY_H
#define OSIER_ADAPTERS_FILES_OVERLAY_H

#include <glib.h>

/* The paths of the YAML files in the room ("languages") of the installed data, each replaced by the clinic's file of the
 * same name, and the clinic's others; sorted by file name. clinic_dir may be NULL. A line in messages where the installed
 * data is missing. Freed with g_ptr_array_unref. */
GPtrArray *overlay_list(const char *room, const char *clinic_dir, GPtrArray *messages);

/* "en" of "/usr/share/osier/languages/en.yaml". The caller frees. */
char *overlay_key(const char *path);

#endif
