/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a programme; one that is taken can be walked through and told. */
#include "core/practice/programme.h"
#include "tests/fuzz/paper.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void tell_stage(const Programme *programme, const Stage *stage)
{
    for (guint i = 0; i < stage->movements->len; i++)
        g_free(movement_text(programme, stage->movements->pdata[i], NULL));
    g_assert(stage->next_key == NULL || stage_next(programme, stage) != NULL);
    g_assert(stage->back_key == NULL || stage_back(programme, stage) != NULL);
}

static bool read_programme(json_t *tree, Faults *faults)
{
    g_autoptr(Programme) programme = programme_read(tree, faults);

    for (int i = 0; programme != NULL && i < programme_stages(programme); i++)
        tell_stage(programme, programme_stage_at(programme, i));
    return programme != NULL;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    paper_try(data, size, read_programme);
    return 0;
}
