/* One JSON object, read strictly: whole, in UTF-8, every field asked for of its type and in its range.
   Fields nobody asked for are checked and ignored. No memory is taken. */
#ifndef JSON_H
#define JSON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define WORD_SIZE 17 /* 16 letters and the end */
#define WORDS_MAX 3

enum json_kind { JSON_WORD, JSON_ID /* a word without dashes */, JSON_WHOLE, JSON_FLAG, JSON_WORDS };

struct json_words {
    size_t count;
    char word[WORDS_MAX][WORD_SIZE];
};

struct json_field {
    const char *name;
    enum json_kind kind;
    void *into; /* char[WORD_SIZE], int64_t, bool, struct json_words */
    int64_t least, most; /* of a whole number, or of a word's letters */
    bool optional;
    bool found;
};

/* Read an object; NULL if it was taken, else the reason in a few plain words. */
const char *json_read(const char *text, size_t size, struct json_field *fields, size_t count);

#endif
