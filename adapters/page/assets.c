/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/page/assets.h"

#include <gio/gio.h>
#include <string.h>

#include "adapters/page/www.h"

static const struct {
    const char *ending;
    const char *type;
} TYPES[] = {
    {".html", "text/html; charset=utf-8"},
    {".css", "text/css; charset=utf-8"},
    {".js", "text/javascript; charset=utf-8"},
    {".svg", "image/svg+xml"},
};

GBytes *asset_find(const char *path, const char **type)
{
    g_autofree char *name = NULL;

    if (strcmp(path, "/") == 0)
        name = g_strdup("/www/index.html");
    else if (g_str_has_prefix(path, "/www/"))
        name = g_strdup(path);
    for (size_t i = 0; name != NULL && i < G_N_ELEMENTS(TYPES); i++) {
        if (!g_str_has_suffix(name, TYPES[i].ending)) continue;
        *type = TYPES[i].type;
        return g_resource_lookup_data(www_get_resource(), name, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
    }
    return NULL;
}
