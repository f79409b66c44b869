/* SPDX-License-Identifier: Apache-2.0 */
/* The programmes of an installation and of a clinic. */
#ifndef OSIER_ADAPTERS_FILES_PROGRAMMES_H
#define OSIER_ADAPTERS_FILES_PROGRAMMES_H

#include "core/practice/programme.h"

typedef struct {
    Programme *programme;
    char *text; /* the file as it stands, for the ledger and its hash */
    char *path;
} ProgrammeFile;

/* Every installed programme, and those of the clinic's folder (NULL: none) in the place of an installed file of the same
 * name: an array of ProgrammeFile that frees them, in the order of their file names. Adds a line for every fault to
 * messages; a programme with a fault is left out. A file is named for its programme's key: KEY.yaml. */
GPtrArray *programmes_load(const char *clinic_dir, GPtrArray *messages);

/* One file, whatever its name. NULL with a line for every fault in messages. Freed with programme_file_free. */
ProgrammeFile *programme_file_read(const char *path, GPtrArray *messages);
void programme_file_free(ProgrammeFile *file);

/* The programme of that key, or NULL; lent. */
const ProgrammeFile *programmes_find(const GPtrArray *programmes, const char *key);

#endif
