/* SPDX-License-Identifier: Apache-2.0 */
/* What the build makes of the folder www/. Private to this folder. */
#ifndef OSIER_ADAPTERS_PAGE_WWW_H
#define OSIER_ADAPTERS_PAGE_WWW_H

#include <gio/gio.h>

GResource *www_get_resource(void);

#endif
