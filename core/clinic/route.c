/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/route.h"

#include <string.h>

static bool by_kind(const Gateway *gateway, Channel channel)
{
    switch (gateway->kind) {
    case GATEWAY_HTTP_SMS:
    case GATEWAY_PROGRAM: return channel == CHANNEL_SMS;
    case GATEWAY_MAIL: return channel == CHANNEL_EMAIL;
    case GATEWAY_SPOOL: return false;
    }
    g_assert_not_reached();
}

bool route_serves(const Clinic *clinic, const Gateway *gateway, Channel channel)
{
    if (gateway->kind != GATEWAY_SPOOL) return by_kind(gateway, channel);
    for (guint i = 0; i < clinic->gateways->len; i++)
        if (by_kind(clinic->gateways->pdata[i], channel)) return false;
    return channel != CHANNEL_PHONE;
}

bool route_takes(const Clinic *clinic, Channel channel)
{
    for (guint i = 0; i < clinic->gateways->len; i++)
        if (route_serves(clinic, clinic->gateways->pdata[i], channel)) return true;
    return false;
}

static bool names_countries(const Gateway *gateway)
{
    return gateway->countries != NULL && gateway->countries->len > 0;
}

bool route_reaches(const Gateway *gateway, const char *address)
{
    if (!names_countries(gateway)) return true;
    for (guint i = 0; i < gateway->countries->len; i++)
        if (address[0] == '+' && g_str_has_prefix(address + 1, gateway->countries->pdata[i]))
            return true;
    return false;
}

/* The gateways of a channel in the order in which they are preferred (lent). */
static GPtrArray *preferred(const Clinic *clinic, Channel channel)
{
    GPtrArray *list = g_ptr_array_new();

    for (int pass = 0; pass < 2; pass++)
        for (guint i = 0; i < clinic->gateways->len; i++) {
            Gateway *gateway = clinic->gateways->pdata[i];
            if (route_serves(clinic, gateway, channel) && names_countries(gateway) == (pass == 0))
                g_ptr_array_add(list, gateway);
        }
    return list;
}

static int longest_first(const void *a, const void *b)
{
    const char *left = *(const char *const *)a;
    const char *right = *(const char *const *)b;
    size_t lengths[] = {strlen(left), strlen(right)};

    return lengths[0] != lengths[1] ? (lengths[0] < lengths[1] ? 1 : -1) : strcmp(left, right);
}

/* Every prefix that any gateway names, each once, the longest first; "" at the end. */
static GPtrArray *prefixes_of(const GPtrArray *gateways)
{
    g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);

    for (guint i = 0; i < gateways->len; i++) {
        const Gateway *gateway = gateways->pdata[i];
        for (guint k = 0; names_countries(gateway) && k < gateway->countries->len; k++)
            if (g_hash_table_add(seen, gateway->countries->pdata[k]))
                g_ptr_array_add(list, g_strconcat("+", (char *)gateway->countries->pdata[k], NULL));
    }
    if (list->len > 1) qsort(list->pdata, list->len, sizeof list->pdata[0], longest_first);
    g_ptr_array_add(list, g_strdup(""));
    return list;
}

static void clear_case(void *data)
{
    g_free(((RouteCase *)data)->prefix);
}

static bool is_up(const Gateway *gateway, const Gateway *self, RouteUp *up, void *context)
{
    return gateway == self || up(gateway, context);
}

Route *route_new(const Clinic *clinic, const Gateway *self, Channel channel, RouteUp *up,
                 void *context)
{
    g_autoptr(GPtrArray) gateways = preferred(clinic, channel);
    g_autoptr(GPtrArray) prefixes = prefixes_of(gateways);

    if (self != NULL && gateways->len < 2) return NULL;
    Route *route = g_new0(Route, 1);
    route->gateway = self != NULL ? g_strdup(self->name) : NULL;
    route->cases = g_array_new(FALSE, TRUE, sizeof(RouteCase));
    g_array_set_clear_func(route->cases, clear_case);
    route->up = g_ptr_array_new_with_free_func(g_free);
    route->spares_calls = self != NULL && !up(self, context);
    for (guint i = 0; i < gateways->len; i++)
        if (is_up(gateways->pdata[i], self, up, context))
            g_ptr_array_add(route->up, g_strdup(((Gateway *)gateways->pdata[i])->name));
    for (guint p = 0; p < prefixes->len; p++) {
        RouteCase one = {.prefix = g_strdup(prefixes->pdata[p]), .turn = -1};
        for (guint i = 0; i < gateways->len; i++) {
            const Gateway *gateway = gateways->pdata[i];
            if (!is_up(gateway, self, up, context) || !route_reaches(gateway, one.prefix)) continue;
            if (gateway == self) one.turn = one.turns;
            one.turns++;
        }
        /* What nobody takes is the turn of nobody. */
        if (self == NULL && one.turns == 0) one.turn = one.turns++;
        g_array_append_val(route->cases, one);
    }
    return route;
}

void route_free(Route *route)
{
    if (route == NULL) return;
    g_free(route->gateway);
    g_array_unref(route->cases);
    g_ptr_array_unref(route->up);
    g_free(route);
}

const char *route_texts_from(const Clinic *clinic, const char *phone)
{
    const char *number = NULL;

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (!route_serves(clinic, gateway, CHANNEL_SMS) || !route_reaches(gateway, phone)) continue;
        if (gateway->from == NULL || (number != NULL && strcmp(number, gateway->from) != 0))
            return NULL;
        number = gateway->from;
    }
    return number;
}
