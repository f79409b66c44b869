/* SPDX-License-Identifier: Apache-2.0 */
/* A site whose gateways, of texts and of mail, are reached by lines that can be bad. Nothing is polled. */
#ifndef OSIER_TESTS_SUPPORT_ROUGH_SITE_H
#define OSIER_TESTS_SUPPORT_ROUGH_SITE_H

#include "tests/support/rough_line.h"
#include "tests/support/site_gateway.h"

typedef struct {
    Site *site;
    StandIn *gateway;
    RoughLine *texts;
    RoughLine *mail;
} RoughSite;

/* Starts it at an instant; the gateway has so long to answer ("1s"). */
RoughSite rough_site_open(Speech speech, const char *answer, const char *start);
/* The same without the mail gateway: all goes by one host. */
RoughSite rough_site_open_alone(const char *start);
void rough_site_close(RoughSite *rough);

/* Replaces a part of clinic.yaml, which must be there, wherever it stands. */
void site_replace(Site *site, const char *part, const char *by);

void rough_site_to(RoughSite *rough, int64_t at_ms);

/* Requests to send that reached the gateway whole, with that id. */
int rough_site_seen(RoughSite *rough, const char *id);

#endif
