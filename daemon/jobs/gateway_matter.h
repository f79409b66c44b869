/* SPDX-License-Identifier: Apache-2.0 */
/* What a clinician must know of a gateway: an alert of the clinic's own, which names it. Each gateway, and each thing that is wrong
 * with it, is a matter by itself. Store thread. */
#ifndef OSIER_DAEMON_JOBS_GATEWAY_MATTER_H
#define OSIER_DAEMON_JOBS_GATEWAY_MATTER_H

#include "daemon/desk/desk.h"

typedef enum {
    GATEWAY_SICK,   /* it fails, or refuses everybody */
    GATEWAY_DEAF,   /* no replies come from it */
    GATEWAY_REFUSED /* its webhooks are not believed */
} GatewayMatter;

/* Opens it; what is wrong anew while one is open is written down with that one. */
void gateway_matter_open(Job *job, const char *gateway, GatewayMatter what);

/* Was such an alert opened at or after an instant, closed since or not? */
bool gateway_matter_since(Job *job, const char *gateway, GatewayMatter what, int64_t since_ms);

/* It is well again: closes what is open of it. True where something was. */
bool gateway_matter_close(Job *job, const char *gateway, GatewayMatter what);

#endif
