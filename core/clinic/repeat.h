/* SPDX-License-Identifier: Apache-2.0 */
/* What is done with a message of which nobody knows whether it left: the line was cut after the last byte, or osier
 * stopped while writing it. The one place where that is decided; docs/gateways.md tells the clinic the same. */
#ifndef OSIER_CORE_CLINIC_REPEAT_H
#define OSIER_CORE_CLINIC_REPEAT_H

#include "core/clinic/clinic.h"
#include "core/wire/message.h"

/* What a gateway promises about a message that it may have seen. */
typedef enum {
    GATEWAY_KEYED, /* K: it drops a second one under the same key */
    GATEWAY_ASKED, /* Q: it can be asked whether it has one */
    GATEWAY_BLIND  /* N: neither */
} GatewayClass;

typedef enum {
    REPEAT_NOT,   /* unsure, and left at that: once too few is better than twice */
    REPEAT_THERE, /* again by the same gateway alone, which drops a second one or is asked first */
    REPEAT_THERE_FIRST, /* the same; after REPEAT_THERE_MOST tries, or where that one is down, by any: twice is better than
                         * never */
    REPEAT_ANYWHERE /* again by any gateway: twice is better than never */
} Repeat;

enum { REPEAT_THERE_MOST = 3 };

GatewayClass gateway_class(const Gateway *gateway);

/* gateway NULL (it has left the settings) counts as one that promises nothing. */
Repeat repeat_policy(const Gateway *gateway, MessageKind kind);

/* Is a second one better than none: an alert, or the word that goes with a warning sign? */
bool message_is_worth_twice(MessageKind kind);

#endif
