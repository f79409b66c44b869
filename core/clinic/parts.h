/* SPDX-License-Identifier: Apache-2.0 */
/* The parts that clinic_read puts together. Only the clinic room uses it. */
#ifndef OSIER_CORE_CLINIC_PARTS_H
#define OSIER_CORE_CLINIC_PARTS_H

#include "core/clinic/clinic.h"
#include "core/clinic/section.h"

/* clinic: name, zone, numbers, hours, digest. */
void profile_read(const Section *root, Clinic *clinic);

/* A phone number under a key as E.164; the caller's, or NULL. */
char *phone_read(const Section *section, const char *key, bool required, const char *country_code);

/* duty: the people who are called. */
void duty_read(const Section *root, Clinic *clinic);

/* gateways: after page and hooks were read. */
void gateways_read(const Section *root, Clinic *clinic);
void gateway_free(void *gateway);

/* How a gateway of text messages is spoken to. */
void send_read(const Section *gateway, Gateway *into);
void ask_read(const Section *gateway, Gateway *into);
void poll_read(const Section *gateway, Gateway *into);

/* receipts.poll, a section that is there. */
PollMapping *receipts_poll_read(const Section *section);
void hooks_read(const Section *gateway, const Clinic *clinic, Gateway *into);
void mapping_clear(Gateway *gateway);

#endif
