/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/handouts.h"

static const Clinic CLINIC = {.name = (char *)"Saltmarsh Lane Physiotherapy",
                              .phone = (char *)"+442079460100",
                              .after_hours_phone = (char *)"+442079460199",
                              .emergency = (char *)"999"};

Paper *handout_made(const Pack *pack, const Programme *programme, const Stage *stage,
                    const HandoutWish *wish)
{
    static const int32_t TIMES[] = {8 * 3600 + 1800, 18 * 3600};
    HandoutMovement movements[STAGE_MOVEMENTS_MAX];

    for (guint i = 0; i < stage->movements->len; i++) {
        const Movement *movement = stage->movements->pdata[i];
        const Setup *setup = movement->setups->len > 0 ? movement->setups->pdata[0] : NULL;
        movements[i] = (HandoutMovement){
            .movement = movement,
            .setup = setup,
            .picture = picture_of_setup(
                pack,
                &(SetupAsk){.movement = movement, .setup = setup, .leg_cm = 85, .angle_deg = 72})};
    }
    return handout_sheet(pack, &(HandoutAsk){.clinic = &CLINIC,
                                             .programme = programme,
                                             .stage = stage,
                                             .name = "Ada Nightingale",
                                             .day = 20528,
                                             .side = wish->side,
                                             .times = TIMES,
                                             .n_times = 2,
                                             .days_a_week = 5,
                                             .channel = wish->channel,
                                             .sharer = wish->sharer,
                                             .number = "+442079460150",
                                             .movements = movements,
                                             .n_movements = (int)stage->movements->len,
                                             .letter = wish->letter,
                                             .large = wish->large});
}
