/* SPDX-License-Identifier: Apache-2.0 */
/* Where the data that comes with osier lies: the commented clinic file, programmes/, languages/. */
#ifndef OSIER_ADAPTERS_FILES_SHARE_H
#define OSIER_ADAPTERS_FILES_SHARE_H

/* The first of: $OSIER_SHARE; a folder config/ that holds languages/ or programmes/, beside or above the running program (a build
 * tree); OSIER_SHARE_DIR where the build names it; /usr/local/share/osier; /usr/share/osier. Where none is there, the
 * last, so that what then fails names a folder. The caller frees. */
char *share_folder(void);

#endif
