/* SPDX-License-Identifier: Apache-2.0 */
/* Which gateway takes which message. A gateway that names country codes (for:) goes before one that names none; among
 * equals the order of the file holds. Of the gateways that are up and serve a number, the first has a message for two
 * tries (an alert for one), then the next, and so on in turn. */
#ifndef OSIER_CORE_CLINIC_ROUTE_H
#define OSIER_CORE_CLINIC_ROUTE_H

#include "core/clinic/clinic.h"
#include "core/wire/message.h"

/* The addresses that begin with prefix, and with none of the cases before it. */
typedef struct {
    char *prefix; /* "+44"; "" every address */
    int turn;     /* of the gateway; -1: it does not take these now */
    int turns;    /* how many gateways take them, it included */
} RouteCase;

/* What one gateway takes. */
typedef struct {
    char *gateway;     /* NULL: what no gateway that is up would take */
    GArray *cases;     /* of RouteCase, the last for every other address */
    GPtrArray *up;     /* names of the gateways that are up, this one included */
    bool spares_calls; /* it is tried after an illness: alerts are left to gateways that are well */
} Route;

/* Does a gateway of that kind serve the channel? A spool serves what no other gateway of the clinic does. */
bool route_serves(const Clinic *clinic, const Gateway *gateway, Channel channel);

/* The number that texts to a phone number come from, lent, or NULL where the settings do not say it, or where it depends on
 * the gateway that is up. */
const char *route_texts_from(const Clinic *clinic, const char *phone);

/* Is there a gateway for the channel at all? */
bool route_takes(const Clinic *clinic, Channel channel);

/* Is a gateway up? */
typedef bool RouteUp(const Gateway *gateway, void *context);

/* What a gateway takes of a channel while those others are up; it itself is counted among them in any case. gateway NULL:
 * what none would take. NULL where the clinic has no choice, and the gateway takes all. Freed with route_free. */
Route *route_new(const Clinic *clinic, const Gateway *gateway, Channel channel, RouteUp *up,
                 void *context);
void route_free(Route *route);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Route, route_free)

/* May the gateway send to the address at all? */
bool route_reaches(const Gateway *gateway, const char *address);

#endif
