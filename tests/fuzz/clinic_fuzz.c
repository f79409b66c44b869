/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a clinic.yaml. */
#include "core/clinic/clinic.h"
#include "tests/fuzz/paper.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static bool read_clinic(json_t *tree, Faults *faults)
{
    g_autoptr(Clinic) clinic = clinic_read(tree, faults);

    return clinic != NULL;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    paper_try(data, size, read_clinic);
    return 0;
}
