/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's folder as a whole: settings, language packs, programmes, secrets. */
#ifndef OSIER_ADAPTERS_FILES_CLINIC_FILE_H
#define OSIER_ADAPTERS_FILES_CLINIC_FILE_H

#include "adapters/files/secrets.h"
#include "core/clinic/clinic.h"

typedef struct {
    Clinic *clinic;
    GPtrArray *packs;      /* as packs_load gives them */
    GPtrArray *programmes; /* as programmes_load gives them */
    Secrets *secrets;
    GPtrArray
        *cautions; /* lines of the same form about what is not wrong, but leaves somebody unheard */
} ClinicFolder;

/* Reads DIR/clinic.yaml, languages/, programmes/ and secrets/ over what is installed. NULL, with a line
 * FILE:LINE:COL: VALUE: WHY in messages (of char *) for every fault of every file, where there are any:
 * an unknown zone, a language without a pack and a {secret:NAME} without its secret among them. */
ClinicFolder *clinic_folder_load(const char *dir, GPtrArray *messages);
void clinic_folder_free(ClinicFolder *folder);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ClinicFolder, clinic_folder_free)

#endif
