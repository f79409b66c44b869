/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/page/guard.h"

#include <glib.h>
#include <string.h>

struct Guard {
    GPtrArray *hosts;   /* "127.0.0.1:8750" ... */
    GPtrArray *origins; /* "http://127.0.0.1:8750" ... */
    bool tls;
};

static void add(Guard *guard, const char *scheme, const char *host)
{
    g_ptr_array_add(guard->hosts, g_ascii_strdown(host, -1));
    g_ptr_array_add(guard->origins, g_strconcat(scheme, host, NULL));
}

Guard *guard_new(const char *listen, const char *url)
{
    static const char *const LOCAL[] = {"127.0.0.1", "localhost", "[::1]"};
    Guard *guard = g_new0(Guard, 1);
    const char *colon = strrchr(listen, ':');

    guard->hosts = g_ptr_array_new_with_free_func(g_free);
    guard->origins = g_ptr_array_new_with_free_func(g_free);
    guard->tls = url != NULL && g_str_has_prefix(url, "https://");
    for (size_t i = 0; i < G_N_ELEMENTS(LOCAL); i++) {
        g_autofree char *host = g_strconcat(LOCAL[i], colon, NULL);
        add(guard, "http://", host);
    }
    if (url != NULL) {
        const char *host = strstr(url, "://") + 3;
        g_autofree char *bare = g_strndup(host, strcspn(host, "/"));
        add(guard, guard->tls ? "https://" : "http://", bare);
    }
    return guard;
}

void guard_free(Guard *guard)
{
    if (guard == NULL) return;
    g_ptr_array_unref(guard->hosts);
    g_ptr_array_unref(guard->origins);
    g_free(guard);
}

static bool holds(const GPtrArray *list, const char *text)
{
    for (guint i = 0; i < list->len; i++)
        if (g_ascii_strcasecmp(list->pdata[i], text) == 0) return true;
    return false;
}

bool guard_host(const Guard *guard, const char *host)
{
    return host != NULL && holds(guard->hosts, host);
}

bool guard_origin(const Guard *guard, const char *origin, const char *site)
{
    if (origin == NULL && site == NULL) return false;
    if (origin != NULL && !holds(guard->origins, origin)) return false;
    return site == NULL || strcmp(site, "same-origin") == 0;
}

const char *const *guard_headers(void)
{
    static const char *const HEADERS[] = {
        "Content-Security-Policy: default-src 'none'; script-src 'self'; connect-src 'self'; "
        "style-src 'self'; img-src 'self'; form-action 'none'; base-uri 'none'; "
        "frame-ancestors 'none'; require-trusted-types-for 'script'",
        "X-Content-Type-Options: nosniff",
        "X-Frame-Options: DENY",
        "Referrer-Policy: no-referrer",
        "Cross-Origin-Opener-Policy: same-origin",
        "Cross-Origin-Resource-Policy: same-origin",
        "Permissions-Policy: camera=(), microphone=(), geolocation=()",
        "Cache-Control: no-store",
        NULL,
    };

    return HEADERS;
}

/* With TLS the name binds the cookie to this host and to TLS (RFC 6265bis, __Host- prefix). */
static const char *cookie_name(const Guard *guard)
{
    return guard->tls ? "__Host-osier" : "osier";
}

char *guard_cookie(const Guard *guard, const char *header)
{
    g_auto(GStrv) parts = g_strsplit(header != NULL ? header : "", ";", 32);

    for (char **part = parts; *part != NULL; part++) {
        const char *text = g_strstrip(*part);
        size_t length = strlen(cookie_name(guard));
        if (strncmp(text, cookie_name(guard), length) == 0 && text[length] == '=')
            return g_strdup(text + length + 1);
    }
    return NULL;
}

char *guard_set_cookie(const Guard *guard, const char *value)
{
    return g_strdup_printf("Set-Cookie: %s=%s; Path=/; HttpOnly; SameSite=Strict%s%s",
                           cookie_name(guard), value != NULL ? value : "",
                           guard->tls ? "; Secure" : "", value != NULL ? "" : "; Max-Age=0");
}
