/* SPDX-License-Identifier: Apache-2.0 */
/* The files of www/, which are built into the program: nothing to install, nothing to lose. */
#ifndef OSIER_ADAPTERS_PAGE_ASSETS_H
#define OSIER_ADAPTERS_PAGE_ASSETS_H

#include <glib.h>

/* The file for a path as a browser asks for it: "/" is index.html, "/www/page.css" page.css. The
 * bytes are the caller's to unref; *type is static. NULL where there is none. */
GBytes *asset_find(const char *path, const char **type);

#endif
