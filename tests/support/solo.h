/* SPDX-License-Identifier: Apache-2.0 */
/* The real programs with a gateway, and a clinic in London that has one client: Ada, who is asked by text. Stepped, from
 * five past eight on Monday, 2 March 2026. */
#ifndef OSIER_TESTS_SUPPORT_SOLO_H
#define OSIER_TESTS_SUPPORT_SOLO_H

#include "tests/support/site_gateway.h"

#define ADA "+442079460001"

typedef struct {
    Site *site;
    StandIn *gateway;
    int port;  /* of its webhooks */
    char *ada; /* her id */
} Solo;

/* at: when Ada is asked each day, "08:30" for one. Her plan is the lower hamstring at a door frame. */
Solo solo_open(Speech speech, const char *at);
void solo_close(Solo *solo);

void solo_to(Solo *solo, const char *instant);

/* Ada texts, and the clock is moved to `then`. */
void solo_says(Solo *solo, const char *text, const char *then);

/* How many texts that hold these words Ada was sent. */
int solo_heard(Solo *solo, const char *words);

/* How many alerts there were of that kind and class, whatever became of them. */
int solo_alerts(Solo *solo, const char *kind, const char *class);

#endif
