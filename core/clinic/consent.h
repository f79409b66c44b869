/* SPDX-License-Identifier: Apache-2.0 */
/* What is said of a consent: how it was given, who took it, and when. */
#ifndef OSIER_CORE_CLINIC_CONSENT_H
#define OSIER_CORE_CLINIC_CONSENT_H

#include "core/calendar/date.h"

/* Why "signed form, R. Okafor, 2026-03-01" does not do: it has no date, a date in another form, or one after today's; NULL
 * where it does. value is then the part at fault (g_free). today: on the clinic's clock; a day more is let pass, for a client
 * may be ahead of it. */
const char *consent_fault(const char *text, Day today, char **value);

#endif
