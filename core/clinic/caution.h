/* SPDX-License-Identifier: Apache-2.0 */
/* What is not wrong with the clinic's settings, but leaves somebody unheard. */
#ifndef OSIER_CORE_CLINIC_CAUTION_H
#define OSIER_CORE_CLINIC_CAUTION_H

#include "core/clinic/clinic.h"

/* Adds to cautions: addresses that no gateway carries messages to, and mail gateways whose answers
 * nobody reads. tree: what the clinic was read from. */
void clinic_cautions(const Clinic *clinic, json_t *tree, Faults *cautions);

#endif
