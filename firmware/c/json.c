#include "json.h"

#include <string.h>

#define DEEPEST 8

struct reader {
    const unsigned char *at, *end;
};

static bool value(struct reader *r, int depth);

static void space(struct reader *r)
{
    while (r->at < r->end && strchr(" \t\r\n", *r->at) && *r->at)
        r->at++;
}

static bool sign(struct reader *r, char wanted)
{
    space(r);
    if (r->at == r->end || *r->at != (unsigned char)wanted)
        return false;
    r->at++;
    return true;
}

/* Step over one character of UTF-8; false if it is none. */
static bool utf8(struct reader *r)
{
    unsigned char first = *r->at++;
    int more = first < 0x80 ? 0 : first >= 0xC2 && first < 0xE0 ? 1 : first >= 0xE0 && first < 0xF0 ? 2
             : first >= 0xF0 && first < 0xF5 ? 3 : -1;
    if (more < 0)
        return false;
    for (; more > 0; more--)
        if (r->at == r->end || (*r->at++ & 0xC0) != 0x80)
            return false;
    return true;
}

static bool escape(struct reader *r)
{
    if (r->at == r->end)
        return false;
    if (*r->at == 'u') {
        for (int i = 0; i < 5; i++, r->at++)
            if (r->at == r->end || (i && !strchr("0123456789abcdefABCDEF", *r->at)))
                return false;
        return true;
    }
    return *r->at && strchr("\"\\/bfnrt", *r->at++);
}

/* Read a text; up to WORD_SIZE - 1 plain characters of it are copied into `word` (NULL: none). Gives its
   length, or -1. A text that is longer, or has an escape, is no word: its length is then beyond any. */
static int text(struct reader *r, char *word)
{
    int length = 0;
    if (!sign(r, '"'))
        return -1;
    while (r->at < r->end && *r->at != '"') {
        const unsigned char *from = r->at;
        if (*from < 0x20)
            return -1;
        if (*from == '\\') {
            r->at++;
            if (!escape(r))
                return -1;
            length = WORD_SIZE;
        } else if (!utf8(r)) {
            return -1;
        } else if (word && length < WORD_SIZE - 1) {
            word[length++] = (char)*from;
        } else {
            length = WORD_SIZE;
        }
    }
    if (word)
        word[length < WORD_SIZE ? length : 0] = '\0';
    return sign(r, '"') ? length : -1;
}

static bool digits(struct reader *r)
{
    const unsigned char *from = r->at;
    while (r->at < r->end && *r->at >= '0' && *r->at <= '9')
        r->at++;
    return r->at > from;
}

/* Read a number; `whole` gets it if it is one without a point, of up to 18 digits. */
static bool number(struct reader *r, int64_t *whole, bool *is_whole)
{
    space(r);
    bool minus = r->at < r->end && *r->at == '-';
    r->at += minus;
    const unsigned char *from = r->at;
    if (!digits(r) || (*from == '0' && r->at - from > 1))
        return false;
    *is_whole = r->at - from <= 18;
    *whole = 0;
    for (const unsigned char *digit = from; *is_whole && digit < r->at; digit++)
        *whole = *whole * 10 + (*digit - '0');
    *whole = minus ? -*whole : *whole;
    if (r->at < r->end && *r->at == '.') {
        *is_whole = false;
        r->at++;
        if (!digits(r))
            return false;
    }
    if (r->at < r->end && (*r->at == 'e' || *r->at == 'E')) {
        *is_whole = false;
        r->at++;
        r->at += r->at < r->end && (*r->at == '+' || *r->at == '-');
        return digits(r);
    }
    return true;
}

static bool literal(struct reader *r, const char *wanted)
{
    size_t length = strlen(wanted);
    space(r);
    if ((size_t)(r->end - r->at) < length || memcmp(r->at, wanted, length) != 0)
        return false;
    r->at += length;
    return true;
}

static bool many(struct reader *r, char closing, int depth)
{
    r->at++;
    if (sign(r, closing))
        return true;
    do {
        if (closing == '}' && (text(r, NULL) < 0 || !sign(r, ':')))
            return false;
        if (!value(r, depth + 1))
            return false;
    } while (sign(r, ','));
    return sign(r, closing);
}

static bool value(struct reader *r, int depth)
{
    int64_t ignored;
    bool is_whole;
    space(r);
    if (r->at == r->end || depth > DEEPEST)
        return false;
    switch (*r->at) {
    case '{': return many(r, '}', depth);
    case '[': return many(r, ']', depth);
    case '"': return text(r, NULL) >= 0;
    case 't': return literal(r, "true");
    case 'f': return literal(r, "false");
    case 'n': return literal(r, "null");
    default: return number(r, &ignored, &is_whole);
    }
}

static bool words(struct reader *r, struct json_words *into)
{
    into->count = 0;
    if (!sign(r, '['))
        return false;
    if (sign(r, ']'))
        return true;
    do {
        if (into->count == WORDS_MAX)
            return false;
        int length = text(r, into->word[into->count++]);
        if (length < 1 || length >= WORD_SIZE)
            return false;
    } while (sign(r, ','));
    return sign(r, ']');
}

#define ID_SIGNS "abcdefghijklmnopqrstuvwxyz0123456789"
#define WORD_SIGNS ID_SIGNS "-"

/* Whether a word is of these signs only. */
static bool made_of(const char *word, const char *signs)
{
    return strspn(word, signs) == strlen(word);
}

/* Read the value of a field that was asked for. */
static bool wanted(struct reader *r, struct json_field *field)
{
    int64_t whole = 0;
    int length;
    bool is_whole = false;
    if (field->optional && literal(r, "null"))
        return true;
    field->found = true;
    switch (field->kind) {
    case JSON_WORD:
    case JSON_ID:
        length = text(r, field->into);
        return length >= field->least && length <= field->most &&
               made_of(field->into, field->kind == JSON_ID ? ID_SIGNS : WORD_SIGNS);
    case JSON_WHOLE:
        if (!number(r, &whole, &is_whole) || !is_whole || whole < field->least || whole > field->most)
            return false;
        *(int64_t *)field->into = whole;
        return true;
    case JSON_FLAG:
        *(bool *)field->into = literal(r, "true");
        return *(bool *)field->into || literal(r, "false");
    default:
        return words(r, field->into);
    }
}

static struct json_field *named(const char *name, struct json_field *fields, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(fields[i].name, name) == 0)
            return &fields[i];
    return NULL;
}

static const char *pairs(struct reader *r, struct json_field *fields, size_t count)
{
    do {
        char name[WORD_SIZE];
        int length = text(r, name);
        if (length < 0 || !sign(r, ':'))
            return "not JSON in UTF-8";
        struct json_field *field = length < WORD_SIZE ? named(name, fields, count) : NULL;
        if (field && field->found)
            return "a field is given twice";
        if (field && !wanted(r, field))
            return "a field is not as it must be";
        if (!field && !value(r, 0))
            return "not JSON in UTF-8";
    } while (sign(r, ','));
    return sign(r, '}') ? NULL : "not JSON in UTF-8";
}

const char *json_read(const char *text_, size_t size, struct json_field *fields, size_t count)
{
    struct reader r = {(const unsigned char *)text_, (const unsigned char *)text_ + size};
    if (!sign(&r, '{'))
        return "not one object";
    const char *wrong = sign(&r, '}') ? NULL : pairs(&r, fields, count);
    space(&r);
    if (wrong || r.at != r.end)
        return wrong ? wrong : "something after the object";
    for (size_t i = 0; i < count; i++)
        if (!fields[i].found && !fields[i].optional)
            return "a field is missing";
    return NULL;
}
