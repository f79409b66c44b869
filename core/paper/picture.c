/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/picture.h"

static void free_states(char *states[6])
{
    for (int i = 0; i < 6; i++)
        g_free(states[i]);
}

static void free_setup(SetupDrawing *setup)
{
    if (setup == NULL) return;
    g_free(setup->angle);
    g_free(setup->reach);
    g_free(setup);
}

static void free_course(CourseDrawing *course)
{
    if (course == NULL) return;
    g_array_unref(course->points);
    g_array_unref(course->readings);
    g_array_unref(course->weeks);
    g_array_unref(course->tick_days);
    g_ptr_array_unref(course->ticks);
    g_free(course->stretch);
    g_free(course->pain);
    g_free(course->range);
    g_free(course->left);
    g_free(course->right);
    g_free(course->goal_word);
    g_free(course->sessions);
    free_states(course->states);
    g_free(course);
}

static void free_adherence(AdherenceDrawing *adherence)
{
    if (adherence == NULL) return;
    g_ptr_array_unref(adherence->rows);
    free_states(adherence->states);
    g_free(adherence);
}

void picture_free(Picture *picture)
{
    if (picture == NULL) return;
    free_setup(picture->setup);
    free_course(picture->course);
    free_adherence(picture->adherence);
    g_free(picture->title);
    g_free(picture->alt);
    g_free(picture);
}
