/* SPDX-License-Identifier: Apache-2.0 */
/* What is said of a consent: how it was given, who took it, and when. */
#ifndef OSIER_CORE_CLINIC_CONSENT_H
#define OSIER_CORE_CLINIC_CONSENT_H

#include "core/calendar/date.h"

typedef enum {
    CONSENT_SERVES,
    CONSENT_OPEN, /* it has no date, or only one that lies ahead: taken where a person is told of it */
    CONSENT_WRONG /* its last part is in digits, as only a date is, and no date */
} ConsentState;

/* "signed form, R. Okafor, 2026-03-01" serves. Where it does not, value is the part at fault (g_free) and why says what to do.
 * today: on the clinic's clock; a day more is let pass, for a client may be ahead of it. */
ConsentState consent_state(const char *text, Day today, char **value, const char **why);

#endif
