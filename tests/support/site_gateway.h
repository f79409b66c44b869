/* SPDX-License-Identifier: Apache-2.0 */
/* Settings for a site whose gateway is a stand-in, in several ways of speaking that differ as those
 * of real gateways do. */
#ifndef OSIER_TESTS_SUPPORT_SITE_GATEWAY_H
#define OSIER_TESTS_SUPPORT_SITE_GATEWAY_H

#include "tests/support/site.h"
#include "tests/support/stand_in.h"

typedef enum {
    SPEAKS_JSON,  /* nested, its id a number; polled; webhook without a signature */
    SPEAKS_FORM,  /* keeps keys; polled; webhook as a form, signed with hmac-sha256, base64 */
    SPEAKS_QUERY, /* GET; webhook by token */
    SPEAKS_SIGNED /* JSON; webhook by standard-webhooks */
} Speech;

#define HOOK_SECRET "whsec_c29tZSBieXRlcyBmb3IgdGVzdHM="
#define HOOK_KEY "a key for tests"

const StandInMap *speech_map(Speech speech);

/* Writes clinic.yaml and the secrets. A clinic in London, open Monday to Friday 08:30-17:30, with
 * R. Okafor (+442079460190) and J. Lindqvist (+442079460191, 15 minutes later) on duty; digest on
 * Monday at 08:00 to desk@clinic.example. */
void site_use(Site *site, StandIn *stand_in, Speech speech, int hooks_port);

/* The same, with a mailbox at that port that is asked every minute. */
void site_use_mailbox(Site *site, StandIn *stand_in, Speech speech, int hooks_port, int imap_port);

/* The same, with a mail server of its own to send by. */
void site_use_servers(Site *site, StandIn *stand_in, Speech speech, int hooks_port, int imap_port,
                      int smtp_port);

/* Adds a client of that number with screen and plan: the id (g_free). */
char *site_client(Site *site, const char *phone, const char *at);

/* The same of one who is written to by mail. */
char *site_mail_client(Site *site, const char *email, const char *at);

#endif
